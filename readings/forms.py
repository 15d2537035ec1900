"""Forms of the pages that take readings."""

from typing import Any
from uuid import uuid4

from django import forms
from django.utils.translation import gettext_lazy as _

from config.forms import DayInput, NumberField, PageForm, PlainChoice
from jobs.forms.lengths import MeasuredForm
from jobs.units import fahrenheit
from readings.air import COLDEST_C, HOTTEST_C


class SentForm(MeasuredForm):
    """Something that a phone names, so that sending it twice changes nothing.

    `at` is when it was taken, where that is not now; a page kept on the phone says so.
    """

    client_id = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)
    at = forms.DateTimeField(required=False, widget=forms.HiddenInput)


class ReadingForm(SentForm):
    """One reading: the number that the meter shows, or that it shows none."""

    range = forms.UUIDField(label=_("Range"))
    value = NumberField(label=_("What does the meter show?"), required=False, low=0, high=1e12)
    volts = NumberField(label=_("Volts at the same time"), required=False, low=0, high=1000)
    volt_range = forms.UUIDField(label=_("Range for the volts"), required=False)
    at_c = NumberField(
        label=_("What does a thermometer beside it say?"), required=False, low=-60, high=150
    )
    over_range = forms.BooleanField(required=False)

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if given.get("over_range"):
            given["value"] = None
        elif given.get("value") is None and "value" not in self.errors:
            self.add_error("value", _("Type what the meter shows, or say that it is over-range."))
        return given


class TemperatureForm(SentForm):
    celsius = NumberField(label=_("What does the thermometer show?"), low=-60, high=400)
    humidity_percent = NumberField(
        label=_("Humidity of the air, %, if it shows one"), required=False, low=0, high=100
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        shown = self.fields["celsius"]
        if self.system == "imperial" and isinstance(shown, NumberField):
            # °F is what was typed: the rule would guess at it again.
            shown.low, shown.high = fahrenheit(COLDEST_C), fahrenheit(HOTTEST_C)


class MeterForm(PageForm):
    """A meter as its plate and its certificate of calibration say."""

    name = forms.CharField(label=_("Name"), max_length=80)
    serial = forms.CharField(label=_("Serial"), max_length=60, required=False)
    calibrated_on = forms.DateField(label=_("Calibrated on"), required=False, widget=DayInput)
    calibration_due_on = forms.DateField(
        label=_("Calibrated until"), required=False, widget=DayInput
    )
    lead_ohms = NumberField(
        label=_("What leads and contacts add at most, Ω"), low=0, high=100, initial="0"
    )
    version = forms.IntegerField(required=False, widget=forms.HiddenInput)


class RangeForm(PageForm):
    """One range as the manual states it: accuracy is percent of reading and digits."""

    name = forms.CharField(label=_("Range"), max_length=40, help_text=_("Such as 200 Ω."))
    quantity = forms.ChoiceField(
        label=_("What it reads"),
        choices=[
            ("ohms", _("ohms")),
            ("megohms", _("megohms")),
            ("volts", _("volts")),
            ("amps", _("amps")),
        ],
        widget=PlainChoice,
    )
    full_scale = NumberField(
        label=_("Highest value, in ohms, volts or amperes"), low=1e-6, high=1e12
    )
    resolution = NumberField(label=_("One step of the last digit"), low=1e-9, high=1e9)
    percent_of_reading = NumberField(label=_("Percent of the reading"), low=0, high=99)
    digits = NumberField(label=_("Digits"), low=0, high=1000)
    test_volts = NumberField(
        label=_("Test voltage, where it reads megohms"), required=False, low=1, high=20_000
    )
