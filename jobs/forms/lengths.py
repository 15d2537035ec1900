"""Lengths as people write them, in the units of a job."""

from typing import Any, cast

from django import forms

from config.errors import DomainError
from config.forms import PageForm
from config.wording import in_language
from jobs import room_form
from jobs.forms.saying import in_words
from jobs.units import System, length_mm


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
    """A form in the units of a job: what a bare number is meant in, and what refusals say."""

    def __init__(self, *args: Any, system: str = "metric", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.system = cast(System, system)
        for field in self.fields.values():
            if isinstance(field, LengthField):
                field.unit = room_form.PLAIN_UNIT[self.system]

    def said(self, text: str) -> str:
        return in_words(text, self.system)
