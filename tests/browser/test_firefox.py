"""The field sequence in Firefox, without signal: kept, sent once, and shown as sent."""

from io import BytesIO

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse
from PIL import Image

from jobs.models import RoomPhoto
from readings.models import Check, Reading
from tests.browser.firefox import FIREFOX, firefox
from tests.pages.world import build

pytestmark = pytest.mark.skipif(FIREFOX is None, reason="no Firefox on this machine")


def test_the_field_sequence_without_signal(live_server, tmp_path, olive, finn, real_now):
    world = build(olive, finn, real_now)
    picture = BytesIO()
    Image.effect_noise((2000, 1500), 60).save(picture, "JPEG")
    (tmp_path / "floor.jpg").write_bytes(picture.getvalue())
    (tmp_path / "profile").mkdir()
    client = Client()
    client.force_login(finn, "config.authentication.MemberBackend")
    session = {
        "name": settings.SESSION_COOKIE_NAME,
        "value": client.cookies[settings.SESSION_COOKIE_NAME].value,
        "path": "/",
    }
    before = Check.objects.count()
    with firefox(tmp_path / "profile") as phone:

        def go(name, *args):
            phone.go(live_server.url + reverse(name, args=args))

        go("offline")
        phone.ask("WebDriver:AddCookie", cookie=session)
        go("today")
        phone.see("Kept on this phone: rooms")
        phone.offline(True)
        go("measure", world.bathroom.pk, "laid")
        phone.see("It is off and dead: measure")
        go("measure-step", world.bathroom.pk, "laid", 1)
        phone.type("//input[@id='id_value']", "100,2")
        phone.press("Check this reading")
        phone.see("Pass: 100,2 Ω")
        assert "1 not sent yet" in phone.text("//a[@id='queue']")
        go("field-room", world.bathroom.pk)
        phone.type("//input[@id='id_image']", str(tmp_path / "floor.jpg"))
        phone.press("Keep the photo")
        phone.see("Not sent: photo")
        assert Check.objects.count() == before
        phone.new_tab()  # the one that was measured in is gone
        go("outbox")
        phone.see("Waits for signal")
        assert "2 not sent yet" in phone.text("//a[@id='queue']")
        phone.offline(False)
        phone.press("Try to send now")
        phone.find("(//main//p[.='Sent and received'])[2]")
        assert "All readings sent" in phone.text("//a[@id='queue']")
    assert Check.objects.count() == before + 1
    assert Reading.objects.latest("pk").value == 100.2
    assert RoomPhoto.objects.get(room=world.bathroom).width_px == 1600
