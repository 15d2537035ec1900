"""Feeds as text, read by a parser that did not write them; and the bookkeeping behind them."""

from datetime import UTC, date, datetime, timedelta

import vobject
from hypothesis import given
from hypothesis import strategies as st

from scheduling.entries import Entry, Kept, booking, changes, heat
from scheduling.feed import UNSPEAKABLE, FeedEvent, feed
from scheduling.halfday import zone_named

AT = datetime(2027, 3, 10, 7, tzinfo=UTC)
OSLO = zone_named("Europe/Oslo")

texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=200)
instants = st.datetimes(datetime(2000, 1, 1), datetime(2100, 1, 1)).map(  # noqa: DTZ001
    lambda naive: naive.replace(microsecond=0, tzinfo=UTC)
)
events = st.builds(
    FeedEvent,
    uid=st.uuids().map(lambda uid: f"{uid}@host"),
    sequence=st.integers(0, 10_000),
    changed_at=instants,
    starts=instants,
    ends=instants,
    title=texts,
    text=texts,
    place=texts,
    category=st.sampled_from(["booking", "heat"]),
    status=st.sampled_from(["CONFIRMED", "TENTATIVE", "CANCELLED"]),
)


def plain(text: str) -> str:
    """A text as it can be said in a calendar: other control characters are blanks."""
    return UNSPEAKABLE.sub(" ", text.replace("\r\n", "\n").replace("\r", "\n"))


@given(st.lists(events, max_size=4), texts)
def test_another_parser_reads_what_was_meant(made, name):
    raw = feed(name=name, about="about", changed_at=AT, events=made)
    read = vobject.readOne(raw.decode())
    found = read.contents.get("vevent", [])
    assert len(found) == len(made)
    for event, meant in zip(found, made, strict=True):
        assert event.uid.value == meant.uid
        assert int(event.sequence.value) == meant.sequence
        assert event.dtstart.value == meant.starts
        assert event.dtend.value == meant.ends
        assert event.dtstamp.value == meant.changed_at
        assert event.status.value == meant.status
        assert event.summary.value == plain(meant.title)
        if meant.text:
            assert event.description.value == plain(meant.text)


@given(texts)
def test_no_text_starts_a_line_of_its_own(text):
    raw = feed(
        name=text,
        about=text,
        changed_at=AT,
        events=[
            FeedEvent(
                uid="a@b",
                sequence=0,
                changed_at=AT,
                starts=AT,
                ends=AT,
                title=text + "\r\nATTENDEE:mailto:all@weir.example",
                place=f"\nEND:VEVENT{text}",
            )
        ],
    )
    names = [line.split(b":")[0].split(b";")[0] for line in raw.split(b"\r\n") if line[:1] != b" "]
    assert names.count(b"END") == 2
    assert b"ATTENDEE" not in names


def test_whole_days_have_no_time_and_end_on_the_day_after():
    event = FeedEvent(
        uid="a@b",
        sequence=3,
        changed_at=AT,
        starts=date(2027, 3, 11),
        ends=date(2027, 3, 12),
        title="Heat",
    )
    raw = feed(name="n", about="a", changed_at=AT, events=[event]).decode()
    read = vobject.readOne(raw).vevent
    assert (read.dtstart.value, read.dtend.value) == (date(2027, 3, 11), date(2027, 3, 12))
    assert read.transp.value == "TRANSPARENT"


# Bookkeeping


def entry(key="booking 1 a", **more) -> Entry:
    return Entry(kind="booking", key=key, starts_at=AT, ends_at=AT + timedelta(hours=4), **more)


def test_what_is_new_changed_gone_and_back():
    same, moved, off = entry("same"), entry("moved"), entry("off")
    later = entry("moved", likely=True)
    kept = [
        Kept(entry=same, sequence=4, cancelled=False),
        Kept(entry=moved, sequence=4, cancelled=False),
        Kept(entry=entry("gone"), sequence=4, cancelled=False),
        Kept(entry=entry("long gone"), sequence=4, cancelled=True),
        Kept(entry=off, sequence=4, cancelled=True),
    ]
    found = changes(kept, [same, later, off, entry("new")])
    assert found.new == (entry("new"),)
    assert found.changed == ((later, 5), (off, 5))
    assert found.cancelled == (("gone", 5),)


@given(st.lists(st.lists(st.sampled_from("abcde"), unique=True), max_size=8))
def test_nothing_told_is_ever_forgotten_and_sequences_only_rise(history):
    kept: dict[str, Kept] = {}
    for wanted in history:
        before = dict(kept)
        found = changes(kept.values(), [entry(key) for key in wanted])
        for new in found.new:
            kept[new.key] = Kept(entry=new, sequence=0, cancelled=False)
        for changed, sequence in found.changed:
            kept[changed.key] = Kept(entry=changed, sequence=sequence, cancelled=False)
        for key, sequence in found.cancelled:
            kept[key] = Kept(entry=kept[key].entry, sequence=sequence, cancelled=True)
        assert {key for key, each in kept.items() if not each.cancelled} == set(wanted)
        assert before.keys() <= kept.keys()
        for key, each in before.items():
            rises = kept[key].cancelled != each.cancelled
            assert kept[key].sequence == each.sequence + rises


def test_a_half_day_is_by_the_clock_of_the_place():
    morning = booking(
        id="1", crew="c", room=None, task="lay", day=date(2027, 3, 28), half="am", zone=OSLO
    )
    assert f"{morning.starts_at:%H:%M}" == "06:00"  # in summer time since that night
    assert morning.ends_at - morning.starts_at == timedelta(hours=4)


def test_a_day_of_heat_is_the_day_of_the_place():
    found = heat(room="r", at=datetime(2027, 3, 27, 23, 30, tzinfo=UTC), likely=True, zone=OSLO)
    assert found.starts_at == datetime(2027, 3, 27, 23, tzinfo=UTC)
    assert found.ends_at - found.starts_at == timedelta(hours=23)  # the clocks go forward
