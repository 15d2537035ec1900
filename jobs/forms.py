"""Forms of the pages about people, places and things."""

import re
import zoneinfo
from collections.abc import Iterable, Sequence
from typing import Any, ClassVar, NamedTuple
from uuid import UUID

from django import forms
from django.contrib.auth import forms as auth
from django.contrib.auth import password_validation
from django.utils.translation import gettext_lazy as _

from config.errors import DomainError
from config.forms import DayInput, NumberField, PageForm, PlainChoice, PlainChoices
from config.sentence import Sentence
from config.tenancy import FIELD, OFFICE, VIEWER
from config.wording import in_language
from jobs import room_form
from jobs.job_list import MOST_CHARACTERS
from jobs.models import LANGUAGES, UNITS, KeepOut, Member
from jobs.outline import Outline
from jobs.units import System, length_mm


class LogIn(PageForm, auth.AuthenticationForm):
    """Log in by e-mail and password."""


class PasswordChange(PageForm, auth.PasswordChangeForm):
    """A new password, for the old one."""


class PasswordReset(PageForm, auth.PasswordResetForm):
    """The address that a link for a new password goes to."""

    def get_users(self, email: str) -> Iterable[Member]:
        """Whoever has that address, also without a password yet: so members come here."""
        return Member.objects.filter(email__iexact=email, is_active=True)


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
    release_on = forms.DateField(label=_("Work may begin on"), required=False, widget=DayInput)
    due_on = forms.DateField(label=_("Due on"), required=False, widget=DayInput)
    note = forms.CharField(label=_("Note"), required=False, widget=forms.Textarea)
    version = forms.IntegerField(required=False, widget=forms.HiddenInput)


class LengthField(forms.Field):
    """A length as people write it: `1200`, `1.2 m`, `5' 3 1/2"`; comes as millimetres.

    `unit` is meant where none is written. One that is `signed` may be below 0.
    """

    def __init__(self, *, unit: str = "mm", signed: bool = False, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.unit, self.signed = unit, signed

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return {"inputmode": "text", "autocomplete": "off", "class": "short"}

    def to_python(self, value: Any) -> float | None:
        text = str(value or "").strip()[:40]
        if not text:
            return None
        read = room_form.signed_length_mm if self.signed else length_mm
        try:
            return read(text, unit=self.unit)
        except DomainError as refused:
            raise forms.ValidationError(in_language(refused.detail)) from refused


class MeasuredForm(PageForm):
    """A form in the units of a job: what a bare number is meant in."""

    def __init__(self, *args: Any, system: System = "metric", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.system: System = system
        for field in self.fields.values():
            if isinstance(field, LengthField):
                field.unit = room_form.PLAIN_UNIT[system]


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


class WaysForm(PageForm):
    """What a search for ways to lay a room may choose from."""

    may_use = forms.ChoiceField(
        label=_("How many elements on one control, at most"),
        choices=[("1", "1"), ("2", "2"), ("3", "3")],
        widget=PlainChoice,
    )
    materials = forms.MultipleChoiceField(
        label=_("Choose from these only"), required=False, widget=PlainChoices
    )


class Touch(NamedTuple):
    """A place on a drawing that is `width` wide, in pixels from its upper left corner."""

    width: int
    x: int
    y: int


class WebhookForm(PageForm):
    url = forms.CharField(
        label=_("Address"),
        max_length=500,
        help_text=_("Of the other system; it begins with https://."),
        widget=forms.TextInput(attrs={"inputmode": "url", "autocomplete": "off"}),
    )
    events = forms.MultipleChoiceField(label=_("What it is told"), widget=PlainChoices)


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


class PhotoMarksForm(PageForm):
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


class AcknowledgeForm(PageForm):
    name = forms.CharField(label=_("Your name"), max_length=120)


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


ROLES = [
    (OFFICE, _("Office: plans, and changes everything")),
    (FIELD, _("Field: measures, places layers, sees all jobs")),
    (VIEWER, _("Viewer: looks at everything, changes nothing")),
]


class MemberForm(PageForm):
    """What the office says of a member."""

    name = forms.CharField(label=_("Name"), max_length=120)
    role = forms.ChoiceField(label=_("What they do"), choices=ROLES, widget=PlainChoice)
    phone = forms.CharField(label=_("Phone"), max_length=40, required=False)
    licence_number = forms.CharField(
        label=_("Licence number, of an electrician"), max_length=60, required=False
    )
    language = forms.ChoiceField(label=_("Language"), choices=LANGUAGES, widget=PlainChoice)


class InviteForm(MemberForm):
    """Somebody who is asked in."""

    email = forms.EmailField(label=_("E-mail"))
    field_order = ("name", "email", "role")


ZONES = sorted(zoneinfo.available_timezones())


class ZoneField(forms.CharField):
    """A time zone by its name in the IANA database."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_length=64, help_text=_("Such as Europe/Oslo."), **kwargs)
        self.widget.attrs["list"] = "zones"

    def clean(self, value: Any) -> str:
        name = str(super().clean(value))
        if name not in ZONES:
            raise forms.ValidationError(
                _("No time zone has this name. It is written like Europe/Oslo.")
            )
        return name


class CompanyForm(PageForm):
    """The contractor, as papers and private pages name it."""

    name = forms.CharField(label=_("Name of the company"), max_length=120)
    phone = forms.CharField(label=_("Phone"), max_length=40, required=False)
    email = forms.EmailField(label=_("E-mail"), required=False)
    licence_number = forms.CharField(label=_("Licence number"), max_length=60, required=False)
    time_zone = ZoneField(label=_("Time zone"))
    units = forms.ChoiceField(label=_("Units"), choices=UNITS, widget=PlainChoice)
    language = forms.ChoiceField(label=_("Language"), choices=LANGUAGES, widget=PlainChoice)
    country = forms.CharField(
        label=_("Country whose public holidays are days off"),
        help_text=_("Two letters, such as NO or US; empty: none are."),
        max_length=2,
        required=False,
    )
    subdivision = forms.CharField(
        label=_("Part of the country with holidays of its own"), max_length=10, required=False
    )

    def clean_country(self) -> str:
        return str(self.cleaned_data["country"]).upper()

    def clean_subdivision(self) -> str:
        return str(self.cleaned_data["subdivision"]).upper()


class FirstForm(PageForm):
    """The company and the first person of its office."""

    name = forms.CharField(label=_("Name of the company"), max_length=120)
    time_zone = ZoneField(label=_("Time zone"))
    units = forms.ChoiceField(label=_("Units"), choices=UNITS, initial="metric", widget=PlainChoice)
    language = forms.ChoiceField(
        label=_("Language"), choices=LANGUAGES, initial="en", widget=PlainChoice
    )
    person = forms.CharField(label=_("Your name"), max_length=120)
    email = forms.EmailField(label=_("Your e-mail; you log in with it"))
    password = forms.CharField(
        label=_("A password"),
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    def clean_password(self) -> str:
        password = str(self.cleaned_data["password"])
        password_validation.validate_password(password)
        return password


class DeviceForm(PageForm):
    name = forms.CharField(
        label=_("Which device is it?"), max_length=80, help_text=_("Such as: logger in the van.")
    )


class JobListForm(PageForm):
    """A list of jobs as a file or as text; comes as `text` and `country`."""

    file = forms.FileField(
        label=_("The file"),
        required=False,
        widget=forms.FileInput(attrs={"accept": ".csv,text/csv,text/plain"}),
    )
    text = forms.CharField(label=_("Or paste it"), required=False, widget=forms.Textarea)
    country = forms.RegexField(
        "^[A-Z]{2}$",
        label=_("Country of rows that name none"),
        help_text=_("Two letters, such as NO or US."),
    )

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        file = given.pop("file", None)
        if file is not None and file.size > MOST_CHARACTERS:
            self.add_error("file", _("The file is too large. Send it in parts."))
        elif file is not None:
            try:
                given["text"] = file.read().decode("utf-8-sig")
            except UnicodeDecodeError:
                self.add_error("file", _("The file is not written in UTF-8. Save it as CSV UTF-8."))
        if not given.get("text") and not self.errors:
            self.add_error("file", _("Choose a file, or paste the list."))
        return given
