"""Customers and their jobs."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from config.forms import DayInput, NumberField, PageForm, PlainChoice
from jobs.job_list import MOST_CHARACTERS
from jobs.models import LANGUAGES, UNITS


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
