"""Entries of the catalogue typed in from data sheets: all of the API's figures, told at fields."""

import pytest
from django.urls import reverse

from jobs.catalogue import GENERIC
from jobs.materials import KINDS
from jobs.models import Material
from tests.factories import MaterialFactory

MORTAR = {
    "name": "Bed mortar 5",
    "sheet": "Sheet M-5, edition 3",
    "curing-law-kind": "arrhenius",
    "curing-law-activation_k": "5000",
    "curing-law-reference_c": "23",
    "curing-lowest_c": "5",
    "curing-walk_after_hours": "24",
    "curing-heat_after_hours": "168",
}


@pytest.fixture
def office(client, olive):
    client.force_login(olive, "config.authentication.MemberBackend")
    return client


def add(office, kind, given):
    return office.post(reverse("material-add", args=[kind]), given)


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_has_its_form(office, kind):
    page = office.get(reverse("material-add", args=[kind])).content.decode()
    assert f'name="{KINDS[kind]}-' in page
    assert 'name="package-covers"' in page


def test_a_kind_that_nobody_knows_is_not_there(office):
    assert office.get(reverse("material-add", args=["glue"])).status_code == 404


def test_a_mortar_is_taken_in_with_its_sheet(office):
    assert add(office, "mortar", MORTAR).status_code == 302
    row = Material.objects.get()
    assert (row.name, row.sheet, row.generic) == ("Bed mortar 5", "Sheet M-5, edition 3", False)
    law = {"kind": "arrhenius", "activation_k": 5000.0, "reference_c": 23.0}
    assert row.curing["law"] == law
    assert row.curing["heat_after_hours"] == 168.0
    assert "highest_c" not in row.curing
    assert row.package is None


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"curing-heat_after_hours": "12"}, "one of them is misread"),
        ({"curing-lowest_c": "500"}, "Type a number from -40 to 70."),
        ({"curing-moisture-limit": "2"}, "This field is required."),
        ({"package-covers": "4"}, "This field is required."),
        ({"curing-heat_after_hours": "a week"}, "Type one number"),
        ({"sheet": ""}, "This field is required."),
    ],
)
def test_what_is_wrong_is_told_and_what_was_typed_stays(office, change, says):
    answer = add(office, "mortar", MORTAR | change)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert says in page
    assert 'value="Bed mortar 5"' in page
    assert not Material.objects.exists()


def test_a_misread_hour_is_told_at_its_field(office):
    page = add(office, "mortar", MORTAR | {"curing-heat_after_hours": "12"}).content.decode()
    assert 'id="id_curing-heat_after_hours_error"' in page


def test_a_probe_has_a_table(office):
    given = {"name": "Probe", "sheet": "S-1", "sensor-points": "0 27445\n25 10000\n50,0 4160"}
    assert add(office, "sensor", given).status_code == 302
    row = Material.objects.get()
    assert row.sensor == {"points": [[0.0, 27445.0], [25.0, 10000.0], [50.0, 4160.0]]}
    page = office.get(reverse("material-edit", args=[row.pk])).content.decode()
    assert "25 10000" in page
    assert add(office, "sensor", given | {"name": "P", "sensor-points": "25"}).status_code == 422


def test_a_change_keeps_every_figure_and_ends_an_assumption(office, olive):
    office.post(reverse("generic-add"), {"keys": list(GENERIC)})
    assert Material.objects.count() == len(GENERIC)
    for row in Material.objects.all():
        address = reverse("material-edit", args=[row.pk])
        form = office.get(address).context["form"]
        typed = {name: value for name in form.fields if (value := form[name].value()) is not None}
        answer = office.post(address, typed)
        assert answer.status_code == 302, (row.name, answer.context["form"].errors)
        changed = Material.objects.get(pk=row.pk)
        for spec in ("curing", "package"):
            before = {k: v for k, v in (getattr(row, spec) or {}).items() if v is not None}
            after = {k: v for k, v in (getattr(changed, spec) or {}).items() if v is not None}
            assert after == before, row.name
        assert not changed.generic


def test_a_stale_change_is_refused(office, olive):
    add(office, "mortar", MORTAR)
    row = Material.objects.get()
    answer = office.post(reverse("material-edit", args=[row.pk]), MORTAR | {"version": "7"})
    assert answer.status_code == 422
    assert "168" in answer.content.decode()


def test_a_retired_entry_is_chosen_no_more(office, olive):
    row = MaterialFactory(contractor=olive.contractor)
    office.post(reverse("material-retire", args=[row.pk]))
    assert row.name not in office.get(reverse("catalogue")).content.decode()
    row.refresh_from_db()
    assert row.retired_at is not None
