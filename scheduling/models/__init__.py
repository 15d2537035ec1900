"""When: layers, decisions, crews and their bookings, visits and notices, certificates."""

from scheduling.models.certificates import Certificate, SignOff
from scheduling.models.claims import CERTIFICATE_CLAIM_LASTS, CLAIM_LASTS
from scheduling.models.crews import HALVES, Booking, Crew, CrewAbsence, Plan, Tool
from scheduling.models.curing import Decision, Energizing, Evidence, Layer, Promise, WarmUpStep
from scheduling.models.notices import DateMove, MoveMessage, Notice
from scheduling.models.standing import JobNeed, JobWait, StaleJob
from scheduling.models.visits import CalendarEntry, StaleCalendar, Visit, VisitingTrade

__all__ = [
    "CERTIFICATE_CLAIM_LASTS",
    "CLAIM_LASTS",
    "HALVES",
    "Booking",
    "CalendarEntry",
    "Certificate",
    "Crew",
    "CrewAbsence",
    "DateMove",
    "Decision",
    "Energizing",
    "Evidence",
    "JobNeed",
    "JobWait",
    "Layer",
    "MoveMessage",
    "Notice",
    "Plan",
    "Promise",
    "SignOff",
    "StaleCalendar",
    "StaleJob",
    "Tool",
    "Visit",
    "VisitingTrade",
    "WarmUpStep",
]
