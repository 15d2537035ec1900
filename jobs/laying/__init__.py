"""Laying plans for heating elements: choose, lay, judge, and find a place along the wire."""

from jobs.laying.check import violations
from jobs.laying.choose import choices, pieces_of
from jobs.laying.lay import NothingToLay, alternatives, lay
from jobs.laying.plan import LayingPlan, dump_plan, parse_plan
from jobs.laying.problem import Room, parse_room

__all__ = [
    "LayingPlan",
    "NothingToLay",
    "Room",
    "alternatives",
    "choices",
    "dump_plan",
    "lay",
    "parse_plan",
    "parse_room",
    "pieces_of",
    "violations",
]
