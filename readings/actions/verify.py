"""Is the record what was accepted? The chain of digests, and the rows beside it."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from operator import itemgetter
from uuid import UUID

from django.db import connection
from django.db.models import TextField
from django.db.models.functions import Cast

from jobs.models import Room
from readings.digest import START, Broken, Link, first_broken
from readings.models import Check

CHUNK = 2_000

# The columns of a check and its readings are copies of what its content says, for queries. This
# finds the first check of each room whose copies say something else.
DIFFERENT = """
SELECT c.room_id, min(c.sequence)
FROM readings_check c
LEFT JOIN LATERAL (
    SELECT jsonb_agg(jsonb_build_array(
        r.kind, r.element_id, r.sensor_id, r.lead, r.value, r.over_range, r.instrument_range_id,
        r.at_c, r.outcome, r.because, r.figures) ORDER BY r.position) AS rows
    FROM readings_reading r WHERE r.check_id = c.id
) stored ON true
LEFT JOIN LATERAL (
    SELECT jsonb_agg(jsonb_build_array(
        s->'kind', a->'element', a->'sensor', COALESCE(s->'lead', '""'), s->'value',
        COALESCE(s->'over_range', 'false'), s->'range',
        COALESCE(s->'at_c', c.content#>'{sent,at_c}'),
        a->'outcome', a->'because', a->'figures') ORDER BY n) AS rows
    FROM ROWS FROM (
        jsonb_array_elements(c.content#>'{sent,readings}'),
        jsonb_array_elements(c.content#>'{accepted,readings}')
    ) WITH ORDINALITY AS both_parts(s, a, n)
) told ON true
WHERE (%(room)s::uuid IS NULL OR c.room_id = %(room)s) AND (
    stored.rows IS DISTINCT FROM told.rows
    OR jsonb_build_array(c.client_id, c.room_id, c.stage, c.supersedes_id, c.note, c.sequence,
        c.taken_by_id, c.outcome, to_jsonb(c.flags))
    IS DISTINCT FROM jsonb_build_array(c.content#>'{sent,client_id}', c.content#>'{sent,room}',
        c.content#>'{sent,stage}', c.content#>'{sent,supersedes}', c.content#>'{sent,note}',
        c.content#>'{accepted,sequence}', c.content#>'{accepted,taken_by}',
        c.content#>'{accepted,outcome}', c.content#>'{accepted,flags}')
    OR c.taken_at IS DISTINCT FROM (c.content#>>'{sent,taken_at}')::timestamptz
    OR c.received_at IS DISTINCT FROM (c.content#>>'{accepted,received_at}')::timestamptz
)
GROUP BY c.room_id
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainState:
    """The chain of one room: how long, whether whole, where it breaks first, its last digest."""

    room: UUID
    checks: int
    broken: Broken | None
    head: str

    @property
    def whole(self) -> bool:
        return self.broken is None


def verify_room(room: Room) -> ChainState:
    """The chain of one room, which may have no checks yet."""
    nothing = ChainState(room=room.pk, checks=0, broken=None, head=START)
    return next(verify(room.pk), nothing)


def verify(room_id: UUID | None = None) -> Iterator[ChainState]:
    """The chains of all rooms that have checks, or of one. What is accepted meanwhile is whole."""
    with connection.cursor() as cursor:
        cursor.execute(DIFFERENT, {"room": room_id})
        different: dict[UUID, int] = dict(cursor.fetchall())
    rows = Check.objects.annotate(text=Cast("content", TextField())).order_by("room_id", "sequence")
    if room_id is not None:
        rows = rows.filter(room_id=room_id)
    links = rows.values_list("room_id", "sequence", "text", "previous_digest", "digest")
    for room, chain in groupby(links.iterator(chunk_size=CHUNK), key=itemgetter(0)):
        yield _state(room, (Link(*row[1:]) for row in chain), different.get(room))


def _state(room: UUID, chain: Iterator[Link], different: int | None) -> ChainState:
    counted = _Counted(chain)
    broken = first_broken(counted)
    for _ in counted:
        pass  # to its end, so that the count and the head are those of the room
    if different is not None and (broken is None or different < broken.sequence):
        broken = Broken(
            sequence=different,
            fault="changed",
            because=f"Check {different} is shown otherwise than it was accepted: its rows were "
            "changed.",
        )
    return ChainState(room=room, checks=counted.count, broken=broken, head=counted.head)


class _Counted:
    """Links as they pass by, counted."""

    def __init__(self, links: Iterator[Link]) -> None:
        self.links = links
        self.count = 0
        self.head = START

    def __iter__(self) -> Iterator[Link]:
        for link in self.links:
            self.count += 1
            self.head = link.digest
            yield link
