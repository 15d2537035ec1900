"""What is chosen of the catalogue, to be built in or laid."""

from typing import Any
from uuid import UUID

from django import forms
from django.utils.translation import gettext_lazy as _

from config.forms import NumberField, PageForm, PlainChoice, PlainChoices
from jobs.forms.lengths import MeasuredForm


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


class WaysForm(MeasuredForm):
    """What a search for ways to lay a room may choose from."""

    may_use = forms.ChoiceField(
        label=_("How many elements on one control, at most"),
        choices=[("1", "1"), ("2", "2"), ("3", "3")],
        widget=PlainChoice,
    )
    materials = forms.MultipleChoiceField(
        label=_("Choose from these only"), required=False, widget=PlainChoices
    )
