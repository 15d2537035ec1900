"""Fields and forms of pages: what was typed stays, and what is wrong is said beside it."""

import math
import re
from typing import Any, NamedTuple

from django import forms
from django.core.exceptions import ValidationError
from django.utils.functional import Promise
from django.utils.translation import gettext as _

from config.errors import DomainError
from config.wording import in_language


class Wrong(NamedTuple):
    """One thing to mend; `target` is the id of its field, empty if it is about all of them."""

    label: str
    text: str
    target: str


class PageForm(forms.Form):
    """Says at the top and at each field what cannot be taken."""

    def wrongs(self) -> list[Wrong]:
        found = []
        for name, errors in self.errors.items():
            label, target = "", ""
            if name in self.fields:
                field = self[name]
                label, target = str(field.label), field.auto_id
                if field.use_fieldset:
                    target += "_0"
            found += [Wrong(label, str(text), target) for text in errors]
        return found

    def refuse(self, refused: DomainError) -> None:
        """Show a refusal at the field that its pointer names, else above all."""
        name = refused.pointer.removeprefix("#/").split("/")[0]
        self.add_error(name if name in self.fields else None, self.said(refused.detail))

    def said(self, text: str) -> str:
        """A rule's sentence as whoever fills this form reads it."""
        return in_language(text)


class ConfirmForm(PageForm):
    """A deed without a field: the page says what it does."""


class NumberField(forms.Field):
    """A number as people type it: `104.6` and `104,6`; never rounded, never grouped."""

    widget = forms.TextInput

    def __init__(
        self,
        *,
        low: float = -math.inf,
        high: float = math.inf,
        unit: str | Promise = "",
        **kwargs: Any,
    ) -> None:
        super().__init__(**kwargs)
        self.low, self.high, self.unit = low, high, unit

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return {"inputmode": "decimal", "autocomplete": "off", "class": "short"}

    def to_python(self, value: Any) -> float | None:
        text = re.sub(r"[\s\u00a0\u202f]", "", str(value or "")).replace("−", "-")
        if not text:
            return None
        if not re.fullmatch(r"-?(\d{1,12}([.,]\d{0,9})?|[.,]\d{1,9})", text):
            raise ValidationError(_("Type one number, such as 104.6."))
        number = float(text.replace(",", "."))
        if not self.low <= number <= self.high:
            raise ValidationError(
                _("Type a number from %(low)s to %(high)s.")
                % {"low": f"{self.low:g}", "high": f"{self.high:g}"}
            )
        return number


class LocalTimeField(forms.DateTimeField):
    """A time by the wall clock of the place; the page gives it its zone."""

    def __init__(self, **kwargs: Any) -> None:
        look = {"type": "datetime-local", "class": "short"}
        kwargs.setdefault("widget", forms.TextInput(attrs=look))
        super().__init__(input_formats=["%Y-%m-%dT%H:%M"], **kwargs)


class PlainChoice(forms.RadioSelect):
    """Choices as rows, each as wide as the page."""

    use_fieldset = True


class PlainChoices(forms.CheckboxSelectMultiple):
    """Several choices as rows."""

    use_fieldset = True


class DayInput(forms.DateInput):
    """A day, chosen or typed; sent as 2026-12-01."""

    def __init__(self) -> None:
        super().__init__(format="%Y-%m-%d", attrs={"type": "date", "class": "short"})
