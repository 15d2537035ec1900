"""Is the record what was accepted? The chain of digests, and the rows beside it."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import groupby, islice
from operator import itemgetter
from uuid import UUID

from django.db import connection

from jobs.models import Room
from readings.digest import START, Broken, Link, first_broken
from readings.models import Check

CHUNK = 2_000
ROOMS = 500

# The columns of a check and its readings are copies of what its content says, for queries. This
# finds the first check of each room whose copies say something else.
DIFFERENT = """
SELECT c.room_id, min(c.sequence)
FROM readings_check c
-- OFFSET 0 keeps the planner from reading the content anew for every comparison.
CROSS JOIN LATERAL (SELECT c.content::jsonb AS whole OFFSET 0) said
CROSS JOIN LATERAL (SELECT whole->'sent' AS sent, whole->'accepted' AS accepted OFFSET 0) part
WHERE c.room_id = ANY(%s) AND (
    c.client_id::text IS DISTINCT FROM sent->>'client_id'
    OR c.room_id::text IS DISTINCT FROM sent->>'room'
    OR c.stage IS DISTINCT FROM sent->>'stage'
    OR c.supersedes_id::text IS DISTINCT FROM sent->>'supersedes'
    OR c.note IS DISTINCT FROM sent->>'note'
    OR c.taken_at IS DISTINCT FROM (sent->>'taken_at')::timestamptz
    OR c.sequence::text IS DISTINCT FROM accepted->>'sequence'
    OR c.received_at IS DISTINCT FROM (accepted->>'received_at')::timestamptz
    OR c.taken_by_id::text IS DISTINCT FROM accepted->>'taken_by'
    OR c.outcome IS DISTINCT FROM accepted->>'outcome'
    OR to_jsonb(c.flags) IS DISTINCT FROM accepted->'flags'
    OR (SELECT count(*) FROM readings_reading r WHERE r.check_id = c.id)
        <> jsonb_array_length(sent->'readings')
    OR EXISTS (
        SELECT 1
        FROM ROWS FROM (
            jsonb_array_elements(sent->'readings'), jsonb_array_elements(accepted->'readings')
        ) WITH ORDINALITY AS told(s, a, n)
        LEFT JOIN readings_reading r ON r.check_id = c.id AND r.position = n - 1
        WHERE r.kind IS DISTINCT FROM s->>'kind'
            OR r.value IS DISTINCT FROM (s->>'value')::float8
            OR r.over_range IS DISTINCT FROM COALESCE((s->>'over_range')::boolean, false)
            OR r.instrument_range_id::text IS DISTINCT FROM s->>'range'
            OR r.lead IS DISTINCT FROM COALESCE(s->>'lead', '')
            OR r.at_c IS DISTINCT FROM COALESCE(s->>'at_c', sent->>'at_c')::float8
            OR r.element_id::text IS DISTINCT FROM a->>'element'
            OR r.sensor_id::text IS DISTINCT FROM a->>'sensor'
            OR r.outcome IS DISTINCT FROM a->>'outcome'
            OR r.because IS DISTINCT FROM a->>'because'
            OR r.figures IS DISTINCT FROM a->'figures'
    )
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


def verify(
    room_id: UUID | None = None, *, contractor_id: UUID | None = None
) -> Iterator[ChainState]:
    """The chains of all rooms that have checks, of one room, or of one contractor's.

    What is accepted meanwhile is whole.
    """
    rows = Check.objects.order_by("room_id", "sequence")
    if room_id is not None:
        rows = rows.filter(room_id=room_id)
    if contractor_id is not None:
        rows = rows.filter(contractor_id=contractor_id)
    links = rows.values_list("room_id", "sequence", "content", "previous_digest", "digest")
    chains = groupby(links.iterator(chunk_size=CHUNK), key=itemgetter(0))
    states = (_state(room, (Link(*row[1:]) for row in chain)) for room, chain in chains)
    while some := list(islice(states, ROOMS)):
        # Only where the chain holds is its content known to be what was accepted.
        whole = [state.room for state in some if state.whole]
        with connection.cursor() as cursor:
            cursor.execute(DIFFERENT, [whole])
            different: dict[UUID, int] = dict(cursor.fetchall())
        for state in some:
            yield (
                state
                if state.room not in different
                else _shown_otherwise(state, different[state.room])
            )


def _state(room: UUID, chain: Iterator[Link]) -> ChainState:
    counted = _Counted(chain)
    broken = first_broken(counted)
    for _ in counted:
        pass  # to its end, so that the count and the head are those of the room
    return ChainState(room=room, checks=counted.count, broken=broken, head=counted.head)


def _shown_otherwise(state: ChainState, sequence: int) -> ChainState:
    because = f"Check {sequence} is shown otherwise than it was accepted: its rows were changed."
    return replace(state, broken=Broken(sequence=sequence, fault="changed", because=because))


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
