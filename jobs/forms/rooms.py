"""Rooms, and what stands in them."""

from typing import Any, ClassVar

from django import forms
from django.utils.translation import gettext_lazy as _

from config.forms import NumberField, PlainChoice
from config.sentence import Sentence
from jobs import room_form
from jobs.forms.lengths import LengthField, MeasuredForm
from jobs.models import KeepOut
from jobs.outline import Outline


class RoomForm(MeasuredForm):
    """A room's floor, typed in one of four ways, and what lies on its walls."""

    WAYS: ClassVar = [
        ("sides", _("A rectangle, by its sides")),
        ("l", _("An L, by its sides")),
        ("walls", _("Wall by wall, as the tape reads them")),
        ("corners", _("Corner by corner")),
    ]

    name = forms.CharField(label=_("Name of the room"), max_length=80)
    way = forms.ChoiceField(
        label=_("How do you give its shape?"), choices=WAYS, initial="sides", widget=PlainChoice
    )
    width = LengthField(label=_("Width"), required=False)
    depth = LengthField(label=_("Depth"), required=False)
    cut_width = LengthField(label=_("Width of the corner that is missing"), required=False)
    cut_depth = LengthField(label=_("Depth of the corner that is missing"), required=False)
    cut_corner = forms.ChoiceField(
        label=_("Which corner is missing"), required=False, widget=PlainChoice
    )
    walls = forms.CharField(label=_("Its walls"), required=False, widget=forms.Textarea)
    corners = forms.CharField(label=_("Its corners"), required=False, widget=forms.Textarea)
    door_wall = NumberField(label=_("Door: in wall"), required=False, low=1, high=500)
    door_from = LengthField(label=_("From where the wall starts"), required=False)
    door_width = LengthField(label=_("Width of the door"), required=False)
    control_wall = NumberField(label=_("Control: on wall"), required=False, low=1, high=500)
    control_from = LengthField(label=_("From where this wall starts"), required=False)
    doorways = forms.CharField(
        label=_("Doorways that stand open to a heated room"),
        required=False,
        widget=forms.Textarea(attrs={"rows": 2, "class": "low"}),
    )
    version = forms.IntegerField(required=False, widget=forms.HiddenInput)

    WAY_FIELDS: ClassVar = {
        "sides l": ("width", "depth"),
        "l": ("cut_width", "cut_depth", "cut_corner"),
        "walls": ("walls",),
        "corners": ("corners",),
    }
    PLACES: ClassVar = (
        ("door_wall", "door_from", "door_width"),
        ("control_wall", "control_from"),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        corner_words = {
            "upper right": _("Upper right"),
            "upper left": _("Upper left"),
            "lower left": _("Lower left"),
            "lower right": _("Lower right"),
        }
        self.fields["cut_corner"].choices = [  # type: ignore[attr-defined]
            (corner, corner_words[corner]) for corner in room_form.CUT_CORNERS
        ]
        imperial = self.system == "imperial"
        self.fields["width"].help_text = (
            _("Such as 9' 10 1/2\"; a bare number is inches.")
            if imperial
            else _("Such as 3000 or 3 m; a bare number is millimetres.")
        )
        self.fields["walls"].help_text = _(
            "One a line, as the tape reads them with the room on your left: the length, then the "
            "turn at its end: left, right, or degrees to the left. For example: %(line)s"
        ) % {"line": "9' 10 1/2\" left" if imperial else "3000 left"}
        self.fields["corners"].help_text = _(
            "One a line: to the right, up. For example: %(line)s"
        ) % {"line": "9' 10\", 7' 10 1/2\"" if imperial else "3000, 2400"}
        self.fields["doorways"].help_text = _(
            "One a line: wall, from where it starts, width. For example: %(line)s"
        ) % {"line": "2: 3', 2' 8\"" if imperial else "2: 900, 800"}

    @property
    def ways(self) -> list[tuple[str, list[forms.BoundField]]]:
        """The fields of each way, with the ways that they belong to."""
        return [(ways, [self[name] for name in names]) for ways, names in self.WAY_FIELDS.items()]

    @property
    def places(self) -> list[list[forms.BoundField]]:
        return [[self[name] for name in names] for names in self.PLACES]

    def outline(self) -> Outline:
        """The floor as typed; raises UnusableOutline or UnreadableRow."""
        return room_form.read(self.cleaned_data, system=self.system)

    def on_walls(self, outline: Outline) -> dict[str, Any]:
        """Door, control and doorways as points on the walls; raises UnreadableRow."""
        given = self.cleaned_data
        found: dict[str, Any] = {"door_mm": None, "control_mm": None}
        for name in ("door", "control"):
            if (wall := given.get(f"{name}_wall")) is None:
                continue
            wide = given.get("door_width") or 0.0 if name == "door" else 0.0
            place = room_form.OnWall(
                wall=int(wall), from_mm=given.get(f"{name}_from") or 0.0, width_mm=wide
            )
            ends = room_form.ends_of(outline, place, f"#/{name}_wall")
            found[f"{name}_mm"] = ends if name == "door" else ends[0]
        if found["door_mm"] and not given.get("door_width"):
            raise room_form.UnreadableRow(Sentence("A door has a width."), pointer="#/door_width")
        found["doorways"] = [
            room_form.ends_of(outline, place, "#/doorways")
            for place in room_form.openings(given.get("doorways", ""), system=self.system)
        ]
        return found


class KeepOutForm(MeasuredForm):
    """One shape without heat, by its lower left corner and its size."""

    kind = forms.ChoiceField(label=_("What"), required=False)
    name = forms.CharField(label=_("Name"), max_length=80, required=False)
    right = LengthField(label=_("To the right"), required=False, signed=True)
    up = LengthField(label=_("Up"), required=False, signed=True)
    width = LengthField(label=_("Its width"), required=False)
    depth = LengthField(label=_("Its depth"), required=False)
    # A shape that is no rectangle keeps its corners, and moves.
    corners = forms.JSONField(required=False, widget=forms.HiddenInput)
    margin_mm = forms.FloatField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["kind"].choices = [("", "–")] + [  # type: ignore[attr-defined]
            (kind, _(room_form.KINDS[kind])) for kind, _name in KeepOut.KINDS
        ]
        if self["corners"].value() not in (None, "", "null"):
            for name in ("width", "depth"):
                self.fields[name].widget = forms.HiddenInput()

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        needed = ("right", "up") if given.get("corners") else ("right", "up", "width", "depth")
        for name in needed:
            if given.get("kind") and given.get(name) is None and name not in self.errors:
                self.add_error(name, _("A shape needs this number."))
        return given


KeepOuts = forms.formset_factory(KeepOutForm, extra=3, max_num=100, absolute_max=110)
