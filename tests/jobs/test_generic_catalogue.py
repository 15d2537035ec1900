"""Generic materials: whole, free of contradictions, and called assumptions wherever they count."""

from datetime import UTC, datetime, timedelta

import pytest

from jobs.catalogue import GENERIC
from jobs.materials import SPECIFICATIONS, MaterialContradicts, check_material, heat_after_hours
from jobs.models import Material
from jobs.specs import CuringSpec, PackageSpec
from scheduling.actions.facts import material_facts
from tests.factories import LayerFactory, RoomFactory

GENERIC_MATERIALS = "/api/v1/generic-materials/"


@pytest.mark.parametrize("key", GENERIC)
def test_every_entry_is_whole_and_fits_together(key):
    entry = GENERIC[key]
    figures = {name: getattr(entry, name, None) for name in SPECIFICATIONS}
    check_material(entry.kind, figures)
    for spec, given in ((CuringSpec, entry.curing), (PackageSpec, entry.package)):
        if given is not None:
            sent = spec(data=given)
            assert sent.is_valid(), sent.errors
    assert entry.note.startswith("Assumed: ")
    assert len(entry.note) <= 200


def test_every_kind_that_the_floor_is_made_of_is_there():
    kinds = {entry.kind for entry in GENERIC.values()}
    assert kinds == {
        "mortar", "leveller", "screed", "grout", "adhesive", "membrane", "primer", "board",
    }  # fmt: skip


@pytest.mark.parametrize(("thickness_mm", "hours"), [(5, 168), (10, 168), (15, 288), (None, 888)])
def test_hours_grow_with_the_thickness(thickness_mm, hours):
    """An unknown thickness counts as the thickest that the sheet allows."""
    curing = {
        "heat_after_hours": 168,
        "most_mm": 40,
        "thickness": {"over_mm": 10, "hours_per_mm": 24},
    }
    assert heat_after_hours(curing, thickness_mm) == hours


def test_a_thickness_rule_needs_the_thickest():
    curing = {**GENERIC["cement-leveller"].curing, "most_mm": None}
    with pytest.raises(MaterialContradicts) as refused:
        check_material("leveller", {"curing": curing})
    assert refused.value.pointer == "#/curing/most_mm"


@pytest.mark.django_db
def test_the_office_takes_them_in_once(api, olive, problem):
    keys = {"keys": ["rapid-mortar", "grout", "insulation-board"]}
    first = api(olive).post(GENERIC_MATERIALS, keys)
    again = api(olive).post(GENERIC_MATERIALS, keys)
    assert first.status_code == again.status_code == 201, first.content
    assert [each["id"] for each in first.json()] == [each["id"] for each in again.json()]
    assert all(each["generic"] for each in first.json())
    assert Material.objects.count() == 3
    unknown = api(olive).post(GENERIC_MATERIALS, {"keys": ["magic"]})
    assert problem(unknown)["errors"][0]["pointer"] == "#/keys/0"


@pytest.mark.django_db
def test_they_are_shown_with_where_their_figures_come_from(api, vera):
    shown = {each["key"]: each for each in api(vera).get(GENERIC_MATERIALS).json()}
    assert shown["cement-screed"]["curing"]["moisture"]["limit"] == 1.8
    assert "water-heated" in shown["cement-screed"]["note"]


@pytest.mark.django_db
def test_a_date_that_rests_on_one_says_so(api, olive, finn):
    (entry,) = api(olive).post(GENERIC_MATERIALS, {"keys": ["rapid-mortar"]}).json()
    room = RoomFactory(contractor=olive.contractor)
    material = Material.objects.get(pk=entry["id"])
    placed_at = datetime.now(UTC) - timedelta(days=1)  # noqa: TID251  the API asks the clock
    LayerFactory(
        contractor=olive.contractor, room=room, material=material, position=1,
        placed_at=placed_at, placed_by=finn, curing=material.curing,
    )  # fmt: skip
    decision = api(finn).get(f"/api/v1/rooms/{room.pk}/energize/").json()
    assert any("assumptions" in sentence for sentence in decision["because"])
    assert material_facts(material, thickness_mm=None).assumed
