"""Logging in and out, and one's own password, language and scheme."""

from typing import Any

from django.contrib import messages
from django.contrib.auth import views
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse_lazy
from django.utils.translation import gettext as _

from config.pages import page
from jobs.actions import members
from jobs.forms.people import LogIn, NewPassword, OwnSettings, PasswordChange, PasswordReset
from jobs.requests import PageRequest


class Unprocessable:
    """A form that cannot be taken is answered with 422, what was typed still in it."""

    http_method_names = ["get", "post", "head", "options"]  # noqa: RUF012 - as Django types it

    def form_invalid(self, form: Any) -> HttpResponse:
        response = super().form_invalid(form)  # type: ignore[misc]
        response.status_code = 422
        return response  # type: ignore[no-any-return]


class Login(Unprocessable, views.LoginView):  # type: ignore[misc]
    template_name = "jobs/login.html"
    form_class = LogIn
    redirect_authenticated_user = True


class Logout(views.LogoutView):
    http_method_names = ["post", "options"]  # noqa: RUF012 - as Django types it


class ChangePassword(Unprocessable, views.PasswordChangeView):  # type: ignore[misc]
    template_name = "jobs/password_change.html"
    form_class = PasswordChange
    success_url = reverse_lazy("own-settings")

    def form_valid(self, form: Any) -> HttpResponse:
        messages.success(self.request, _("Your password is changed."))
        return super().form_valid(form)


change_password = page("GET", "POST")(ChangePassword.as_view())


class ResetPassword(Unprocessable, views.PasswordResetView):  # type: ignore[misc]
    template_name = "jobs/password_reset.html"
    form_class = PasswordReset
    email_template_name = "jobs/password_reset_mail.txt"
    subject_template_name = "jobs/password_reset_subject.txt"
    success_url = reverse_lazy("password-reset-sent")


class ResetSent(views.PasswordResetDoneView):
    http_method_names = ["get", "head", "options"]  # noqa: RUF012 - as Django types it
    template_name = "jobs/password_reset_sent.html"


class SetPassword(Unprocessable, views.PasswordResetConfirmView):  # type: ignore[misc]
    template_name = "jobs/password_set.html"
    form_class = NewPassword
    success_url = reverse_lazy("login")
    post_reset_login = False

    def form_valid(self, form: Any) -> HttpResponse:
        messages.success(self.request, _("Your password is set. Log in with it."))
        return super().form_valid(form)


@page("GET", "POST")
def own_settings(request: PageRequest) -> HttpResponse:
    member = request.user
    kept = {"name": member.name, "language": member.language, "scheme": member.scheme}
    form = OwnSettings(request.POST if request.method == "POST" else None, initial=kept)
    if request.method == "POST" and form.is_valid():
        members.change_own_settings(by=member, **form.cleaned_data)
        return redirect("own-settings")
    status = 422 if form.errors else 200
    return render(request, "jobs/own_settings.html", {"form": form}, status=status)
