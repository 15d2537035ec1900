"""Forms of the pages about when."""

from typing import Any
from uuid import uuid4

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from config.forms import DayInput, LocalTimeField, NumberField, PageForm, PlainChoice, PlainChoices
from jobs.forms.catalogue import ChosenField
from jobs.forms.lengths import MeasuredForm
from jobs.models import LANGUAGES
from scheduling.calendar_text import MOST_BYTES


class PlaceForm(PageForm):
    """When a layer was laid."""

    placed_at = LocalTimeField(label=_("Laid at"))
    version = forms.IntegerField(widget=forms.HiddenInput)


class LayerForm(PageForm):
    material = ChosenField(label=_("Material"))
    thickness_mm = NumberField(label=_("Thickness, mm"), required=False, low=0.1, high=1000)
    embeds = forms.BooleanField(label=_("The heating cable lies in it"), required=False)


class VisitForm(PageForm):
    trade = forms.CharField(label=_("Trade"), max_length=60)
    company = forms.CharField(label=_("Company"), max_length=120)
    phone = forms.CharField(label=_("Phone"), max_length=40, required=False)
    email = forms.EmailField(label=_("E-mail, for the warning"), required=False)
    language = forms.ChoiceField(
        label=_("Language"), choices=LANGUAGES, initial="en", widget=PlainChoice
    )
    room = ChosenField(label=_("Room"), required=False)
    activities = forms.MultipleChoiceField(
        label=_("What they mean to do"),
        widget=PlainChoices,
    )
    starts_at = LocalTimeField(label=_("From"))
    ends_at = LocalTimeField(label=_("Until"))


class ImportForm(PageForm):
    """Visits as lines of text or as a calendar file; `kept` is the file of the step before."""

    lines = forms.CharField(
        label=_("One visit a line"),
        required=False,
        widget=forms.Textarea(attrs={"rows": 6}),
        help_text=_(
            "Day, from when until when (or am, or pm), trade; then, if you like, the company after "
            "a comma, a room after @, what they do after a colon: "
            "2026-12-01 08:00-16:00 plumber, Brook & Weir @ Bathroom: drilling"
        ),
    )
    file = forms.FileField(
        label=_("Or a calendar file (.ics)"),
        required=False,
        widget=forms.FileInput(attrs={"accept": ".ics,text/calendar"}),
    )
    kept = forms.CharField(required=False, strip=False, widget=forms.HiddenInput)

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if upload := given.get("file"):
            # No more than can be refused for its size.
            given["calendar"] = upload.read(MOST_BYTES + 1)
        else:
            given["calendar"] = given.get("kept", "").replace("\r\n", "\n")
        if not given["calendar"] and not given.get("lines"):
            self.add_error("lines", _("Type a line, or choose a file."))
        return given


class VisitImportForm(ImportForm):
    """The same for the office, with what holds for visits that do not say otherwise."""

    trade = forms.CharField(label=_("Trade"), max_length=60, required=False)
    company = forms.CharField(label=_("Company"), max_length=120, required=False)
    phone = forms.CharField(label=_("Phone"), max_length=40, required=False)
    email = forms.EmailField(label=_("E-mail, for the warning"), required=False)
    language = forms.ChoiceField(
        label=_("Language"), choices=LANGUAGES, initial="en", widget=PlainChoice
    )
    room = ChosenField(label=_("Room"), required=False)
    activities = forms.MultipleChoiceField(label=_("What they mean to do"), widget=PlainChoices)

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        if given.get("calendar") and not given.get("trade"):
            self.add_error("trade", _("A calendar does not say which trade it is of."))
        return given


class TradeForm(PageForm):
    """A trade that is to tell its own times."""

    trade = forms.CharField(label=_("Trade"), max_length=60)
    company = forms.CharField(label=_("Company"), max_length=120)
    phone = forms.CharField(label=_("Phone"), max_length=40, required=False)
    email = forms.EmailField(label=_("E-mail, for the warning"), required=False)
    language = forms.ChoiceField(
        label=_("Language"), choices=LANGUAGES, initial="en", widget=PlainChoice
    )
    activities = forms.MultipleChoiceField(label=_("What they mean to do"), widget=PlainChoices)


class FeedForm(PageForm):
    whose = forms.ChoiceField(label=_("Whose"), widget=PlainChoice)


class BookForm(PageForm):
    crew = ChosenField(label=_("Crew"))
    room = ChosenField(label=_("Room"), required=False)
    task = forms.ChoiceField(label=_("Task"))
    day = forms.DateField(label=_("Day"), widget=DayInput)
    half = forms.ChoiceField(label=_("Half-day"), widget=PlainChoice)


class MoveForm(PageForm):
    """Where a task is to be; the version says what was looked at."""

    crew = ChosenField(label=_("Crew"))
    day = forms.DateField(label=_("Day"), widget=DayInput)
    half = forms.ChoiceField(label=_("Half-day"), widget=PlainChoice)
    version = forms.IntegerField(widget=forms.HiddenInput)


class SignForm(PageForm):
    kind = forms.ChoiceField(
        label=_("Who signs"),
        choices=[("electrician", _("The licensed electrician")), ("customer", _("The customer"))],
        widget=PlainChoice,
    )
    name = forms.CharField(label=_("Name"), max_length=120)
    licence_number = forms.CharField(
        label=_("Licence number, of the electrician"), max_length=60, required=False
    )
    scope = forms.CharField(label=_("What is signed for"), max_length=1000)
    client_id = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if given.get("kind") == "electrician" and not given.get("licence_number"):
            self.add_error("licence_number", _("An electrician signs with a licence number."))
        return given


class ProofForm(PageForm):
    """What is proven in a room beside its readings."""

    kind = forms.ChoiceField(label=_("What"), widget=PlainChoice)
    outcome = forms.ChoiceField(
        label=_("How it stands"),
        choices=[("pass", _("Pass")), ("fail", _("Fail")), ("undecided", _("Undecided"))],
        initial="pass",
        widget=PlainChoice,
    )
    name = forms.CharField(label=_("Who answers for it"), max_length=120, required=False)
    licence_number = forms.CharField(label=_("Licence number"), max_length=60, required=False)
    note = forms.CharField(label=_("Note"), max_length=5000, required=False)
    client_id = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)


class WhatIfForm(MeasuredForm):
    """What the date would become; at least one of three suppositions."""

    room_c = NumberField(label=_("Keep the room at"), required=False, low=-40, high=160)
    warm_from = LocalTimeField(label=_("from"), required=False)
    layer = ChosenField(label=_("Layer"), required=False)
    material = ChosenField(label=_("of another material"), required=False)
    placed_at = LocalTimeField(label=_("or laid on another day"), required=False)

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        other = [name for name in ("material", "placed_at") if given.get(name)]
        if other and not given.get("layer"):
            self.add_error("layer", _("Say which layer."))
        if given.get("room_c") is None and not other and not self.errors:
            self.add_error(None, _("Suppose a warmer room, another material or another day."))
        return given


class TickForm(MeasuredForm):
    """What the floor shows at a step of its first heating, in the units of the job."""

    step = forms.IntegerField(widget=forms.HiddenInput)
    floor_c = NumberField(label=_("What does the floor show?"), required=False, low=-60, high=400)


class HeatForm(MeasuredForm):
    switched_on_at = LocalTimeField(label=_("Switched on at"))
    test_minutes = NumberField(
        label=_("Minutes, if it was only a brief test before the date"),
        required=False,
        low=0,
        high=1000,
    )
    client_id = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)


# Half-days of a week as a form names them, each with its weekday from Monday, 0.
WORKING_HALVES = [(f"{day}-{half}", day) for day in range(7) for half in ("am", "pm")]
WEEK = (
    _("Monday"),
    _("Tuesday"),
    _("Wednesday"),
    _("Thursday"),
    _("Friday"),
    _("Saturday"),
    _("Sunday"),
)


class CrewForm(PageForm):
    """Who works together, what they can do, and when."""

    name = forms.CharField(label=_("Name"), max_length=80)
    skills = forms.MultipleChoiceField(
        label=_("What they can do"), choices=[], required=False, widget=PlainChoices
    )
    members = forms.MultipleChoiceField(
        label=_("Who belongs to it"), choices=[], required=False, widget=PlainChoices
    )
    works = forms.MultipleChoiceField(
        label=_("When they work"),
        choices=[
            (name, format_lazy("{} {}", WEEK[day], _("am") if name.endswith("am") else _("pm")))
            for name, day in WORKING_HALVES
        ],
        widget=PlainChoices,
    )
    keeps_holidays = forms.BooleanField(
        label=_("Public holidays are days off"), required=False, initial=True
    )
    version = forms.IntegerField(required=False, widget=forms.HiddenInput)


class AwayForm(PageForm):
    """Days on which a crew that else works does not."""

    first_on = forms.DateField(label=_("First day away"), widget=DayInput)
    last_on = forms.DateField(label=_("Last day away"), required=False, widget=DayInput)
    halves = forms.MultipleChoiceField(label=_("Which half-days"), choices=[], widget=PlainChoices)
    note = forms.CharField(label=_("Why"), max_length=120, required=False)

    LONGEST_DAYS = 100

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        first, last = given.get("first_on"), given.get("last_on") or given.get("first_on")
        given["last_on"] = last
        if first and last and last < first:
            self.add_error("last_on", _("The last day lies before the first."))
        elif first and last and (last - first).days >= self.LONGEST_DAYS:
            self.add_error("last_on", _("At most 100 days at once."))
        return given


class ToolForm(PageForm):
    name = forms.CharField(label=_("Name"), max_length=80)
    capacity = NumberField(label=_("How many there are"), low=1, high=1000)
