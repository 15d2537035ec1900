from threading import Barrier, Thread
from uuid import uuid4

import pytest
from django.db import IntegrityError, connection, transaction

from config.tenancy import violated
from readings.models import SiteTemperature
from tests.readings.conftest import NOBODYS, Site

URL = "/api/v1/site-temperatures/"
LOG = f"{URL}log/"


def body(site, **more):
    return {
        "client_id": str(uuid4()),
        "job": str(site.job.pk),
        "room": str(site.room.pk),
        "at": "2026-03-10T06:00:00+01:00",
        "celsius": 14.5,
        **more,
    }


def test_a_temperature_is_taken_once(site, api, finn):
    sent = body(site)
    first, again = (api(finn).post(URL, sent) for _ in range(2))
    assert first.status_code == again.status_code == 201
    assert first.json() == again.json()
    assert first.json()["at"] == "2026-03-10T05:00:00Z"
    assert SiteTemperature.objects.count() == 1


def test_an_id_that_was_used_for_another_is_a_clash(site, api, finn, problem):
    sent = body(site)
    api(finn).post(URL, sent)
    refused = problem(api(finn).post(URL, {**sent, "celsius": 15}))
    assert (refused["status"], refused["type"]) == (409, "/problems/sent-otherwise/")


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"celsius": 71}, "#/celsius"),
        ({"celsius": 200}, "#/celsius"),
        ({"humidity_percent": 101}, "#/humidity_percent"),
        ({"celsius": None}, "#/celsius"),
        ({"at": "2026-03-10T06:00:00"}, "#/at"),
        ({"at": "2190-01-01T00:00:00Z"}, "#/at"),
        ({"job": NOBODYS}, "#/job"),
        ({"room": NOBODYS}, "#/room"),
        ({"source": "oracle"}, "#/source"),
    ],
    ids=lambda part: next(iter(part)) if isinstance(part, dict) else "",
)
def test_a_bad_temperature_is_told_with_its_field(site, api, finn, problem, change, pointer):
    refused = problem(api(finn).post(URL, body(site, **change)))
    assert (refused["status"], refused["errors"][0]["pointer"]) == (422, pointer)


def test_a_temperature_in_fahrenheit_is_told(site, api, finn, problem):
    refused = problem(api(finn).post(URL, body(site, celsius=77)))
    assert refused["type"] == "/problems/implausible-temperature/"
    assert "If it was read in °F, it is 25.0 °C" in refused["detail"]


@pytest.mark.parametrize("shown", ["77", "200"])
def test_a_page_refuses_it_at_the_field(site, api, finn, shown):
    address = f"/field/rooms/{site.room.pk}/thermometer/"
    response = api(finn).post(address, {"client_id": str(uuid4()), "celsius": shown}, "multipart")
    assert response.status_code == 422
    assert f"{shown} °C" in response.content.decode()
    assert not SiteTemperature.objects.exists()


def test_the_humidity_of_the_air_comes_with_a_temperature(site, api, finn):
    sent = body(site, humidity_percent=71.5)
    assert api(finn).post(URL, sent).json()["humidity_percent"] == 71.5
    address = f"/field/rooms/{site.room.pk}/thermometer/"
    typed = {"client_id": str(uuid4()), "celsius": "14,5", "humidity_percent": "80"}
    assert api(finn).post(address, typed, "multipart").status_code == 302
    rows = SiteTemperature.objects.order_by("pk").values_list("humidity_percent", flat=True)
    assert list(rows) == [71.5, 80]
    changed = {**sent, "humidity_percent": 60}
    assert api(finn).post(URL, changed).status_code == 409


def test_the_database_refuses_a_humidity_that_no_air_has(site, api, finn):
    api(finn).post(URL, body(site))
    row = SiteTemperature.objects.get()
    row.pk, row.client_id, row.humidity_percent = uuid4(), uuid4(), 120
    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        row.save(force_insert=True)
    assert violated(refused.value) == "sitetemperature_humidity_plausible"


def test_a_room_of_another_job_is_unknown(site, api, finn, alder):
    other = Site(alder)
    assert api(finn).post(URL, body(site, room=str(other.room.pk))).status_code == 422


def test_a_batch_keeps_the_good_ones_and_answers_the_same_again(site, api, finn):
    batch = {"temperatures": [body(site), body(site, celsius=99), body(site, job=str(uuid4())), 7]}
    first, again = (api(finn).post(f"{URL}batch/", batch).json() for _ in range(2))
    assert first == again
    assert (first["accepted"], first["refused"]) == (1, 3)
    assert first["results"][1]["problem"]["errors"][0]["pointer"] == "#/celsius"
    assert SiteTemperature.objects.count() == 1


def test_a_batch_has_a_limit_and_tells_it(site, api, finn, problem):
    refused = problem(api(finn).post(f"{URL}batch/", {"temperatures": [1] * 5001}))
    assert "At most 5000" in refused["errors"][0]["detail"]


def test_temperatures_are_listed_by_room_and_time(site, api, finn):
    for hour in range(3):
        api(finn).post(URL, body(site, at=f"2026-03-10T0{hour}:00:00Z", celsius=10 + hour))
    asked = {"room": str(site.room.pk), "since": "2026-03-10T01:00:00Z"}
    rows = api(finn).get(URL, asked).json()["results"]
    assert [row["celsius"] for row in rows] == [12, 11]


def test_temperatures_are_never_edited_or_deleted(site, api, finn):
    api(finn).post(URL, body(site))
    rows = SiteTemperature.objects.all()
    for change in (lambda: rows.update(celsius=30), lambda: rows._raw_delete(rows.db)):
        with pytest.raises(IntegrityError) as refused, transaction.atomic():
            change()
        assert violated(refused.value) == "sitetemperature_never_edited"


@pytest.mark.django_db(transaction=True)
def test_the_same_temperature_at_once_is_taken_once(site, api, finn):
    sent, statuses, barrier = body(site), [], Barrier(4)

    def post():
        barrier.wait()
        statuses.append(api(finn).post(URL, sent).status_code)
        connection.close()

    threads = [Thread(target=post) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert statuses == [201] * 4
    assert SiteTemperature.objects.count() == 1


CSV = (
    "Logger 5, cellar\n"
    "Datum;Temperatur °C\n"
    "10.03.2026 06:00;14,5\n"
    "10.03.2026 07:00;14,6\n"
    "10.03.2026 07:00;14,6\n"
    "10.03.2026 08:00;none\n"
    "29.03.2026 02:30;9,0\n"
).encode("latin-1")


def upload(client, site, data, **query):
    asked = {"job": str(site.job.pk), "room": str(site.room.pk), "day_order": "dmy", **query}
    text = "&".join(f"{name}={value}" for name, value in asked.items())
    return client.post(f"{LOG}?{text}", data=data, content_type="text/csv")


def test_a_loggers_file_is_taken_in_and_its_bad_rows_are_told_by_line(site, api, finn):
    told = upload(api(finn), site, CSV, source_name="cellar")
    assert told.status_code == 200, told.content
    report = told.json()
    assert (report["rows"], report["added"], report["duplicates"], report["bad"]) == (5, 2, 1, 2)
    assert [problem["line"] for problem in report["problems"]] == [6, 7]
    assert "the clocks went forward" in report["problems"][1]["because"]
    assert (report["first_at"], report["last_at"]) == (
        "2026-03-10T05:00:00Z",
        "2026-03-10T06:00:00Z",
    )
    rows = SiteTemperature.objects.order_by("at").values_list("celsius", "source", "source_name")
    assert list(rows) == [(14.5, "logger", "cellar"), (14.6, "logger", "cellar")]


def test_the_same_file_again_adds_nothing(site, api, finn):
    upload(api(finn), site, CSV)
    report = upload(api(finn), site, b"\xef\xbb\xbf" + CSV.decode("latin-1").encode()).json()
    assert (report["added"], report["duplicates"]) == (0, 3)
    changed = upload(api(finn), site, CSV.replace(b"14,5", b"15,5")).json()
    assert (changed["added"], changed["bad"]) == (0, 3)
    assert "Another temperature is kept" in changed["problems"][-1]["because"]


def test_a_time_still_to_come_is_a_bad_row(site, api, finn):
    report = upload(api(finn), site, b"time,temp\n2190-01-01T00:00Z,20\n").json()
    assert (report["added"], report["bad"]) == (0, 1)


@pytest.mark.parametrize(
    ("data", "query", "type_"),
    [
        (b"", {}, "not-acceptable"),
        (b"a,b\n1,2\n", {}, "log-not-readable"),
        (CSV, {"zone": "Atlantis/Main"}, "log-not-readable"),
        (CSV, {"unit": "F"}, "log-not-readable"),
        (CSV, {"unit": "K"}, "not-acceptable"),
        (CSV, {"job": NOBODYS}, "unknown-id"),
        (CSV, {"room": NOBODYS}, "unknown-id"),
        (CSV, {"colour": "red"}, "not-acceptable"),
    ],
    ids=lambda part: str(part)[:20],
)
def test_a_file_that_cannot_be_read_is_refused(site, api, finn, problem, data, query, type_):
    refused = problem(upload(api(finn), site, data, **query))
    assert refused["type"] == f"/problems/{type_}/"
    assert refused["status"] == 422


def test_a_key_is_good_for_one_file(site, api, finn, problem):
    client = api(finn)
    asked = f"{LOG}?job={site.job.pk}&day_order=dmy"

    def post(data):
        return client.post(
            asked, data=data, content_type="text/csv", headers={"Idempotency-Key": "k1"}
        )

    assert post(CSV).json() == post(CSV).json()
    assert problem(post(CSV + b"11.03.2026 06:00;9\n"))["type"] == "/problems/key-reused/"
