"""Questions to a drawing, and marks on it or on a photograph."""

import re
from collections.abc import Sequence
from typing import Any, NamedTuple

from django import forms
from django.utils.translation import gettext_lazy as _

from config.forms import NumberField, PageForm
from jobs import room_form
from jobs.forms.lengths import LengthField, MeasuredForm


class Touch(NamedTuple):
    """A place on a drawing that is `width` wide, in pixels from its upper left corner."""

    width: int
    x: int
    y: int


class AskForm(MeasuredForm):
    """May I fasten here? A place by two distances, or by a touch on the plan."""

    USUAL_DEPTH_MM = 40.0
    USUAL_DRILL_MM = 6.0

    right = LengthField(label=_("To the right"), required=False)
    into = LengthField(label=_("Into the room"), required=False)
    depth = LengthField(label=_("How deep"), required=False)
    drill = LengthField(label=_("Drill"), required=False)

    def touched(self) -> Touch | None:
        """Where the plan was touched: a browser sends `at288.x` for an image called `at288`."""
        for name, x in self.data.items():
            match = re.fullmatch(r"at(\d{3})\.x", name)
            y = self.data.get(f"{name[:-1]}y", "")
            if match and re.fullmatch(r"\d{1,4}", x) and re.fullmatch(r"\d{1,4}", y):
                return Touch(width=int(match[1]), x=int(x), y=int(y))
        return None


class AsLaidForm(MeasuredForm):
    """Where marks lie now, and by how much runs were moved: two lengths for each name."""

    tolerance = LengthField(label=_("How true this is, ±"), required=False)

    def __init__(self, *args: Any, names: Sequence[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in (*names, "joint-0"):
            for part, label in (("right", _("To the right")), ("into", _("Into the room"))):
                self.fields[f"{name}-{part}"] = LengthField(
                    label=label,
                    required=False,
                    signed=True,
                    unit=room_form.PLAIN_UNIT[self.system],
                )


class PhotoForm(PageForm):
    image = forms.FileField(
        label=_("Photo of the floor"),
        widget=forms.FileInput(
            attrs={"accept": "image/jpeg,image/png,image/webp", "capture": "environment"}
        ),
    )


class ScaleForm(MeasuredForm):
    """Points of a photo whose place on the floor is known, a row each."""

    MOST = 8

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        unit = room_form.PLAIN_UNIT[self.system]
        for at in range(self.MOST):
            for name, label in (("x", _("Across")), ("y", _("Down"))):
                self.fields[f"{name}-{at}"] = _pixel(label)
            for name, label in (("right", _("To the right")), ("into", _("Into the room"))):
                self.fields[f"{name}-{at}"] = LengthField(
                    label=label, required=False, signed=True, unit=unit
                )

    @property
    def rows(self) -> list[list[forms.BoundField]]:
        names = ("x", "y", "right", "into")
        return [[self[f"{name}-{at}"] for name in names] for at in range(self.MOST)]

    def points(self) -> list[tuple[tuple[float, float], tuple[float, float]]]:
        """Pixel and place of each row that is filled in."""
        given = self.cleaned_data
        rows = [
            [given.get(f"{name}-{at}") for name in ("x", "y", "right", "into")]
            for at in range(self.MOST)
        ]
        return [((u, v), (x, y)) for u, v, x, y in rows if None not in (u, v, x, y)]  # type: ignore[misc]


class PhotoMarksForm(MeasuredForm):
    """Marks as pixels of a photo, two numbers for each name."""

    def __init__(self, *args: Any, names: Sequence[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in (*names, "joint-0"):
            self.fields[f"{name}-x"] = _pixel(_("Across"))
            self.fields[f"{name}-y"] = _pixel(_("Down"))

    def fields_of(self, name: str) -> tuple[forms.BoundField, forms.BoundField]:
        return self[f"{name}-x"], self[f"{name}-y"]

    def pixel(self, name: str) -> tuple[float, float] | None:
        x, y = (self.cleaned_data.get(f"{name}-{axis}") for axis in "xy")
        return None if x is None or y is None else (x, y)


def _pixel(label: Any) -> NumberField:
    field = NumberField(label=label, required=False, low=0, high=20_000)
    field.widget.attrs["data-pixel"] = "1"
    return field
