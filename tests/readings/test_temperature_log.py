from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from readings.temperature_log import BadRow, Duplicate, LogNotReadable, Mapping, Row, rows

BERLIN, NEW_YORK = "Europe/Berlin", "America/New_York"


def read(data, zone=BERLIN, **mapping):
    data = data.encode() if isinstance(data, str) else data
    return list(rows([data], Mapping(zone=zone, **mapping)))


def instants(found):
    return [row.at for row in found if isinstance(row, Row)]


def utc(*parts):
    return datetime(*parts, tzinfo=UTC)


TWO = [
    Row(2, utc(2026, 3, 10, 5, 0), 14.5),
    Row(3, utc(2026, 3, 10, 6, 0), -0.5),
]


@pytest.mark.parametrize(
    ("text", "mapping"),
    [
        ("time,temperature\n2026-03-10 06:00,14.5\n2026-03-10 07:00,-0.5\n", {}),
        ("Time;Temp °C\r\n2026-03-10T06:00:00;14,5\r\n2026-03-10T07:00:00;-0,5\r\n", {}),
        ('"Time"\t"Temp"\n"2026-03-10 06:00"\t"14.5"\n2026-03-10 07:00\t−0,5', {}),
        ("temp,when\n14.5,2026-03-10T05:00Z\n-0.5,2026-03-10T01:00-05:00\n", {"at_column": "When"}),
        ("Datum;Zeit;Temp\n10.03.26;06:00;14,5\n10.03.26;07:00:00;-0,5\n", {"day_order": "dmy"}),
        (
            "Date,Time,Temp (F)\n3/10/2026,6:00 AM,58.1\n3/10/2026,07:00 a.m.,31.1\n",
            {"day_order": "mdy"},
        ),
        (
            "n,x,y\n1,2026/03/10 06:00,14.5\n2,2026/03/10 07:00,-0.5\n",
            {"at_column": 2, "temperature_column": 3},
        ),
        (
            "day,hour,Temp\n2026-03-10,06:00,14.5\n2026-03-10,07:00,-0.5\n",
            {"at_column": "day", "time_column": "hour"},
        ),
    ],
)
def test_many_spellings_say_the_same(text, mapping):
    assert read(text, **mapping) == TWO


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("size", [1, 7, 10_000])
def test_encodings_are_told_apart_however_the_bytes_come(encoding, size):
    data = "Zeit;Temperatur °C\n2026-03-10 06:00;14,5\n2026-03-10 07:00;-0,5\n".encode(encoding)
    pieces = [data[i : i + size] for i in range(0, len(data), size)]
    assert list(rows(pieces, Mapping(zone=BERLIN))) == TWO


def test_the_hour_that_comes_twice_is_told_apart_by_order():
    """Clocks go back in Berlin at 03:00 on 25 October 2026: 02:30 is 00:30 and 01:30 UTC."""
    text = "time,temp\n" + "".join(
        f"2026-10-25 {clock},{t}\n"
        for t, clock in enumerate(["01:30", "02:00", "02:30", "02:00", "02:30", "03:00"])
    )
    first = utc(2026, 10, 24, 23, 30)
    half = timedelta(minutes=30)
    assert instants(read(text)) == [first + i * half for i in range(6)]


def test_an_hourly_logger_says_two_o_clock_twice():
    text = "time,temp\n2026-10-25 02:00,5\n2026-10-25 02:00,4\n2026-10-25 03:00,3\n"
    assert instants(read(text)) == [utc(2026, 10, 25, hour) for hour in (0, 1, 2)]


def test_the_hour_that_does_not_exist_is_a_bad_row():
    found = read("time,temp\n2026-03-29 02:30,5\n2026-03-29 03:30,5\n")
    assert isinstance(found[0], BadRow)
    assert "the clocks went forward" in found[0].because
    assert instants(found) == [utc(2026, 3, 29, 1, 30)]


def test_half_an_hour_of_daylight_saving_too():
    """Lord Howe goes back by half an hour on 5 April 2026 at 02:00 (CT-1 of the calendar rows)."""
    text = "time,temp\n2026-04-05 01:40,5\n2026-04-05 01:40,5\n2026-04-05 02:10,5\n"
    minutes = [at - utc(2026, 4, 4, 14, 40) for at in instants(read(text, "Australia/Lord_Howe"))]
    assert minutes == [timedelta(0), timedelta(minutes=30), timedelta(minutes=60)]


def test_repeats_are_counted_and_contradictions_are_bad():
    found = read("time,temp\n2026-03-10 06:00,5\n2026-03-10 06:00,5\n2026-03-10 06:00,6\n")
    assert [type(row) for row in found] == [Row, Duplicate, BadRow]
    assert found[2].line == 4


@pytest.mark.parametrize(
    ("cells", "why"),
    [
        ("2026-03-10 06:00,", "is no temperature"),
        ("2026-03-10 06:00,warm", "is no temperature"),
        ("2026-03-10 06:00,nan", "no temperature of a building site"),
        ("2026-03-10 06:00,71", "no temperature of a building site"),
        ("2026-03-10 06:00,-41", "no temperature of a building site"),
        ("2026-03-10,5", "is no time"),
        ("10.03.2026 06:00,5", "not written year first"),
        ("2026-13-10 06:00,5", "is no time"),
        ("2026-03-10 25:00,5", "is no time"),
        ("1026-03-10 06:00,5", "no year of this job"),
        ("yesterday,5", "is no time"),
        ("2026-03-10 06:00", "only 1 columns"),
        (f"{'x' * 100_000},5", "only 1 columns"),
        ("\x00\xff,5", "is no time"),
    ],
    ids=lambda part: part[:24],
)
def test_a_bad_row_is_told_by_its_line_and_the_next_one_is_kept(cells, why):
    found = read(f"time,temp\n\n{cells}\n2026-03-10 06:00,5\n")
    assert isinstance(found[0], BadRow)
    assert found[0].line == 3
    assert why in found[0].because
    assert instants(found) == [utc(2026, 3, 10, 5)]


@pytest.mark.parametrize(
    ("data", "mapping", "why"),
    [
        (b"", {}, "empty"),
        (b"\n\n", {}, "empty"),
        (b"a,b\n1,2\n", {}, "names a column"),
        (b"time,temp\n", {"at_column": "when"}, "names a column"),
        (b"time,temp\n", {"temperature_column": 3, "at_column": 1}, "names a column"),
        (b"time,temp\n", {"time_column": "clock"}, "names a column"),
        (b"time,temp (F)\n", {"unit": "C"}, "Check the unit"),
        ("time;temp °C\n".encode("cp1252"), {"unit": "F"}, "Check the unit"),
        (b"time,temp\n", {"zone": "Atlantis/Main"}, "no time zone"),
        (b"time,temp\n", {"zone": "../etc/passwd"}, "no time zone"),
        (bytes(range(256)) * 500, {}, "names a column"),
    ],
    ids=lambda part: str(part)[:30],
)
def test_a_file_that_is_no_log_is_refused_at_once(data, mapping, why):
    with pytest.raises(LogNotReadable, match=why):
        rows([data], Mapping(**{"zone": BERLIN, **mapping}))


@given(st.binary(max_size=400))
def test_whatever_follows_the_header_every_row_is_answered(data):
    for row in rows([b"time,temp\n", data], Mapping(zone=NEW_YORK)):
        assert isinstance(row, Row | BadRow | Duplicate)


@given(
    start=st.datetimes(datetime(2025, 1, 1), datetime(2027, 12, 31)),  # noqa: DTZ001
    minutes=st.sampled_from([10, 15, 30, 60]),
    zone=st.sampled_from([BERLIN, NEW_YORK, "Australia/Lord_Howe", "UTC"]),
)
def test_a_logger_that_runs_through_a_change_of_the_clocks_loses_no_hour(start, minutes, zone):
    """Ten weeks of local wall-clock times come back as the instants at which they were written."""
    from zoneinfo import ZoneInfo

    first = start.replace(minute=0, second=0, microsecond=0, tzinfo=UTC)
    written = [first + timedelta(minutes=minutes * i) for i in range(300)]
    wall = [at.astimezone(ZoneInfo(zone)).strftime("%Y-%m-%d %H:%M") for at in written]
    text = "time,temp\n" + "".join(f"{clock},{i % 50}.5\n" for i, clock in enumerate(wall))
    found = instants(read(text, zone))
    if found[0] == written[0]:  # else it begins within the second of two like hours
        assert found == written


@pytest.mark.parametrize(
    ("text", "mapping"),
    [
        ("time,temp,humidity %\n2026-03-10 06:00,14.5,71\n2026-03-10 07:00,-0.5,\n", {}),
        ("Zeit;Temp;rel. Feuchte\n2026-03-10 06:00;14,5;71,0 %\n2026-03-10 07:00;-0,5;\n", {}),
        (
            "time,temp,second\n2026-03-10 06:00,14.5,71 %RH\n2026-03-10 07:00,-0.5\n",
            {"humidity_column": "second"},
        ),
    ],
    ids=["english", "german", "named"],
)
def test_the_humidity_of_a_row_comes_with_it(text, mapping):
    first, second = read(text, **mapping)
    assert (first.celsius, first.humidity_percent) == (14.5, 71.0)
    assert second.humidity_percent is None


def test_a_humidity_that_no_air_has_is_a_bad_row():
    found = read("time,temp,humidity\n2026-03-10 06:00,14.5,171\n2026-03-10 07:00,14.5,wet\n")
    assert all(isinstance(row, BadRow) for row in found)
    assert [row.because for row in found] == [
        "171 % is no humidity of air.",
        "'wet' is no humidity.",
    ]


def test_a_humidity_column_that_is_not_there_is_refused():
    with pytest.raises(LogNotReadable, match="no column 'rh'"):
        read("time,temp\n2026-03-10 06:00,14.5\n", humidity_column="rh")
