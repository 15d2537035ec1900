"""What forms refuse on a job in feet and inches is said in feet and inches, in both languages."""

import pytest
from django.urls import reverse

from jobs.models import Material
from tests.pages.test_rooms import METRIC, words, world  # noqa: F401 - a fixture

NO_KEEP_OUTS = {"keep-TOTAL_FORMS": "0", "keep-INITIAL_FORMS": "0", "name": "Bath"}
SIDES = {"way": "sides", "width": "9' 10\"", "depth": "8'", **NO_KEEP_OUTS}
FEET = "9' 10\" left\n8' left\n9' 10\" left\n6' 8\" left"
CROSSED = "0, 0\n10', 0\n0, 8'\n10', 8'"


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize(
    ("page", "typed", "says"),
    [
        ("room-add", {"way": "walls", "walls": FEET, **NO_KEEP_OUTS}, " 1′ 4″"),
        ("room-add", {"way": "corners", "corners": CROSSED, **NO_KEEP_OUTS}, " 5′"),
        ("room-add", SIDES | {"control_wall": "2", "control_from": "9'"}, " 8′"),
        ("room-add", SIDES | {"width": "0"}, " 0″ "),
        ("room-as-laid", {"tolerance": '1/64"'}, "±3/8″"),
        ("room-plans", {"may_use": "1"}, "3′ 11 1/4″"),
        ("thermometer", {"celsius": "200"}, " 158."),
    ],
    ids=str,
)
def test_refusals_are_in_the_units_of_the_job(api, olive, world, language, page, typed, says):  # noqa: F811
    olive.language = language
    olive.save()
    world.job.units = "imperial"
    world.job.save()
    for row in Material.objects.filter(kind="element"):
        row.element["cold_lead_mm"] = 1200.0  # too short for the wall and the box
        row.save()
    asked = world.job.pk if page == "room-add" else world.bathroom.pk
    address = reverse(page, args=[asked])
    refused = api(olive).post(address, typed, format="multipart", HTTP_ACCEPT_LANGUAGE=language)
    said = words(refused).replace("\N{NO-BREAK SPACE}", " ")
    assert refused.status_code == 422
    assert says in said
    assert METRIC.findall(said.replace("Mat 3.1 m²", "Mat")) == []
