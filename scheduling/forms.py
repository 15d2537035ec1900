"""Forms of the pages about when."""

from django import forms
from django.utils.translation import gettext_lazy as _

from config.forms import PageForm


class PlaceForm(PageForm):
    """When a layer was laid, by the wall clock of the place."""

    placed_at = forms.DateTimeField(
        label=_("Laid at"),
        input_formats=["%Y-%m-%dT%H:%M"],
        widget=forms.TextInput(attrs={"type": "datetime-local", "class": "short"}),
    )
    version = forms.IntegerField(widget=forms.HiddenInput)
