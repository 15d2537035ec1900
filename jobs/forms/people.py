"""People: who they are, how they come in, the company they work for and the devices they use."""

import zoneinfo
from collections.abc import Iterable
from typing import Any

from django import forms
from django.contrib.auth import forms as auth
from django.contrib.auth import password_validation
from django.utils.translation import gettext_lazy as _

from config.forms import PageForm, PlainChoice, PlainChoices
from config.tenancy import FIELD, OFFICE, VIEWER
from jobs.models import LANGUAGES, UNITS, Member

ROLES = [
    (OFFICE, _("Office: plans, and changes everything")),
    (FIELD, _("Field: measures, places layers, sees all jobs")),
    (VIEWER, _("Viewer: looks at everything, changes nothing")),
]
ZONES = sorted(zoneinfo.available_timezones())


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


class WebhookForm(PageForm):
    url = forms.CharField(
        label=_("Address"),
        max_length=500,
        help_text=_("Of the other system; it begins with https://."),
        widget=forms.TextInput(attrs={"inputmode": "url", "autocomplete": "off"}),
    )
    events = forms.MultipleChoiceField(label=_("What it is told"), widget=PlainChoices)


class AcknowledgeForm(PageForm):
    name = forms.CharField(label=_("Your name"), max_length=120)
