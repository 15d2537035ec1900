"""States and how they are shown: each mark's word and tone, in one table."""

from typing import NamedTuple

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _


class Mark(NamedTuple):
    """`tone` names the colour by what it means: ok, stop, ask, wet, set or off."""

    word: str | Promise
    tone: str


MARKS = {
    "pass": Mark(_("Pass"), "ok"),
    "undecided": Mark(_("Undecided"), "ask"),
    "fail": Mark(_("Fail"), "stop"),
    "none": Mark(_("No cable"), "off"),
    "bare": Mark(_("Bare"), "stop"),
    "wet": Mark(_("Wet"), "wet"),
    "embedded": Mark(_("Embedded"), "set"),
    "hold": Mark(_("Hold"), "ask"),
    "cleared": Mark(_("Cleared"), "ok"),
    "booked": Mark(_("Booked"), "off"),
    "late": Mark(_("Late"), "stop"),
    "frozen": Mark(_("Held fast"), "set"),
    "moved": Mark(_("Moves"), "ask"),
    "unsent": Mark(_("Not sent"), "ask"),
    "sent": Mark(_("Sent"), "ok"),
    "clash": Mark(_("Two sets"), "stop"),
    "todo": Mark(_("To do"), "off"),
}
