"""Forms of the pages about people, places and things."""

import re
from typing import Any, NamedTuple
from uuid import UUID

from django import forms
from django.contrib.auth import forms as auth
from django.utils.translation import gettext_lazy as _

from config.errors import DomainError
from config.forms import NumberField, PageForm, PlainChoice
from jobs import room_form
from jobs.models import LANGUAGES, UNITS, KeepOut
from jobs.units import length_mm


class LogIn(PageForm, auth.AuthenticationForm):
    """Log in by e-mail and password."""


class PasswordChange(PageForm, auth.PasswordChangeForm):
    """A new password, for the old one."""


class PasswordReset(PageForm, auth.PasswordResetForm):
    """The address that a link for a new password goes to."""


class NewPassword(PageForm, auth.SetPasswordForm):  # type: ignore[type-arg]
    """A new password, by the link that was sent."""


class OwnSettings(PageForm):
    name = forms.CharField(label=_("Your name"), max_length=120)
    language = forms.ChoiceField(label=_("Language"), choices=LANGUAGES, widget=PlainChoice)
    scheme = forms.ChoiceField(
        label=_("Light or dark"),
        choices=[("", _("As the device")), ("light", _("Light")), ("dark", _("Dark"))],
        required=False,
        widget=PlainChoice,
    )


class CustomerForm(PageForm):
    name = forms.CharField(label=_("Name"), max_length=120)
    phone = forms.CharField(label=_("Phone"), max_length=40, required=False)
    email = forms.EmailField(label=_("E-mail"), required=False)
    language = forms.ChoiceField(
        label=_("Language"), choices=LANGUAGES, initial="en", widget=PlainChoice
    )
    note = forms.CharField(label=_("Note"), required=False, widget=forms.Textarea)
    version = forms.IntegerField(required=False, widget=forms.HiddenInput)


class JobForm(PageForm):
    title = forms.CharField(label=_("What it is"), max_length=120)
    street = forms.CharField(label=_("Street and number"), max_length=160)
    postcode = forms.CharField(label=_("Postcode"), max_length=20, required=False)
    city = forms.CharField(label=_("Town"), max_length=80)
    country = forms.RegexField(
        "^[A-Z]{2}$", label=_("Country"), help_text=_("Two letters, such as NO or US.")
    )
    units = forms.ChoiceField(label=_("Units"), choices=UNITS, widget=PlainChoice)
    supply_volts = NumberField(label=_("Supply, volts"), low=1, high=1000)
    code_profile = forms.ChoiceField(
        label=_("Code profile"), choices=[("us", "US"), ("iec", "IEC")], widget=PlainChoice
    )
    release_on = forms.DateField(label=_("Work may begin on"), required=False)
    due_on = forms.DateField(label=_("Due on"), required=False)
    note = forms.CharField(label=_("Note"), required=False, widget=forms.Textarea)
    version = forms.IntegerField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("release_on", "due_on"):
            self.fields[name].widget = forms.DateInput(
                format="%Y-%m-%d", attrs={"type": "date", "class": "short"}
            )


class LengthField(forms.Field):
    """A length as people write it: `1200`, `1.2 m`, `5' 3 1/2"`; comes as millimetres.

    `unit` is meant where none is written.
    """

    def __init__(self, *, unit: str = "mm", **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.unit = unit

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return {"inputmode": "text", "autocomplete": "off"}

    def to_python(self, value: Any) -> float | None:
        text = str(value or "").strip()[:40]
        if not text:
            return None
        try:
            return length_mm(text, unit=self.unit)
        except DomainError as refused:
            raise forms.ValidationError(refused.detail) from refused


class ChosenField(forms.TypedChoiceField):
    """One of some rows, by its id; the page says which."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(coerce=UUID, empty_value=None, **kwargs)


class InstallForm(PageForm):
    material = ChosenField(label=_("Which of the catalogue"))
    label = forms.CharField(label=_("What it is called here"), max_length=40)
    serial = forms.CharField(label=_("Serial"), max_length=60, required=False)


class InstallElementForm(InstallForm):
    tag_ohms = NumberField(label=_("Ohms on the tag"), low=0.1, high=1e6)


class Touch(NamedTuple):
    """A place on a drawing that is `width` wide, in pixels from its upper left corner."""

    width: int
    x: int
    y: int


class AskForm(PageForm):
    """May I fasten here? A place by two distances, or by a touch on the plan."""

    USUAL_DEPTH_MM = 40.0
    USUAL_DRILL_MM = 6.0

    right = LengthField(label=_("To the right"), required=False)
    into = LengthField(label=_("Into the room"), required=False)
    depth = NumberField(label=_("How deep, mm"), required=False, low=1, high=1000)
    drill = NumberField(label=_("Drill, mm"), required=False, low=1, high=100)

    def touched(self) -> Touch | None:
        """Where the plan was touched: a browser sends `at288.x` for an image called `at288`."""
        for name, x in self.data.items():
            match = re.fullmatch(r"at(\d{3})\.x", name)
            y = self.data.get(f"{name[:-1]}y", "")
            if match and re.fullmatch(r"\d{1,4}", x) and re.fullmatch(r"\d{1,4}", y):
                return Touch(width=int(match[1]), x=int(x), y=int(y))
        return None


class AcknowledgeForm(PageForm):
    name = forms.CharField(label=_("Your name"), max_length=120)


class RoomForm(PageForm):
    """A room's floor: a rectangle by two sides, any other by its walls or its corners."""

    name = forms.CharField(label=_("Name of the room"), max_length=80)
    width = LengthField(
        label=_("Width"), required=False, help_text=_("For a rectangle: 3000, 3 m, or 9' 10\".")
    )
    depth = LengthField(label=_("Depth"), required=False)
    walls = forms.CharField(
        label=_("Or its walls"),
        required=False,
        widget=forms.Textarea,
        help_text=_(
            "One a line, as the tape reads them with the room on your left: the length, then the "
            "turn at its end: left, right, or degrees to the left."
        ),
    )
    corners = forms.CharField(
        label=_("Or its corners"),
        required=False,
        widget=forms.Textarea,
        help_text=_("One a line, millimetres: to the right, up."),
    )
    door = forms.CharField(
        label=_("Door"),
        required=False,
        help_text=_("The two ends of its gap, millimetres: right, up; right, up."),
    )
    control = forms.CharField(
        label=_("Control on the wall"), required=False, help_text=_("Millimetres: right, up.")
    )
    version = forms.IntegerField(required=False, widget=forms.HiddenInput)

    def outline(self) -> room_form.Read:
        """The floor as typed; raises UnusableOutline or UnreadableRow."""
        given = self.cleaned_data
        return room_form.read(
            width_mm=given.get("width"),
            depth_mm=given.get("depth"),
            walls=given.get("walls", ""),
            corners=given.get("corners", ""),
            door=given.get("door", ""),
            control=given.get("control", ""),
        )


class KeepOutForm(PageForm):
    """One shape without heat, by its lower left corner and its size."""

    kind = forms.ChoiceField(label=_("What"), required=False)
    name = forms.CharField(label=_("Name"), max_length=80, required=False)
    right = NumberField(label=_("Right, mm"), required=False)
    up = NumberField(label=_("Up, mm"), required=False)
    width = NumberField(label=_("Width, mm"), required=False, low=1)
    depth = NumberField(label=_("Depth, mm"), required=False, low=1)
    # A shape that is no rectangle keeps its corners.
    corners = forms.JSONField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["kind"].choices = [("", "–")] + [  # type: ignore[attr-defined]
            (kind, room_form.KINDS[kind]) for kind, _name in KeepOut.KINDS
        ]

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if given.get("kind") and not given.get("corners"):
            for name in ("right", "up", "width", "depth"):
                if given.get(name) is None and name not in self.errors:
                    self.add_error(name, _("A shape needs this number."))
        return given


KeepOuts = forms.formset_factory(KeepOutForm, extra=3, max_num=100, absolute_max=110)
