"""Rows for tests, one contractor all the way down. People and places are invented."""

from datetime import UTC, date, datetime, timedelta
from uuid import uuid4

from factory import LazyAttribute, SelfAttribute, Sequence, SubFactory
from factory.django import DjangoModelFactory

from jobs.materials import CURING_KINDS
from jobs.models import (
    Contractor,
    Control,
    Customer,
    Delivery,
    Element,
    Export,
    FloorSensor,
    Job,
    LayingSearch,
    Material,
    Member,
    Room,
    Webhook,
)
from jobs.webhook import EVENTS
from readings import digest
from readings.models import Check, FaultFound, Instrument, InstrumentRange, Reading
from scheduling.models import (
    Booking,
    Certificate,
    Crew,
    CrewAbsence,
    Layer,
    Notice,
    Plan,
    Promise,
    Tool,
    Visit,
    VisitingTrade,
)

NOW = datetime(2027, 3, 10, 7, 0, tzinfo=UTC)

ELEMENT_SPEC = {
    "kind": "mat",
    "wire_mm": 62_000.0,
    "spacing_mm": 75.0,
    "spacing_least_mm": 60.0,
    "spacing_most_mm": 100.0,
    "watts": 744.0,
    "volts": 230.0,
    "min_bend_mm": 25.0,
    "ends": "one",
    "width_mm": 500.0,
    "length_mm": 9_300.0,
    "cold_lead_mm": 3_000.0,
}
# 10 kΩ at 25 °C, three points of a common curve (0, 25, 50 °C).
SENSOR_SPEC = {"points": [[0.0, 27_445.0], [25.0, 10_000.0], [50.0, 4_160.0]]}
CONTROL_SPEC = {"volts": 230.0, "max_amps": 16.0, "leakage_trip_ma": None}
CURING_SPEC = {
    "law": {"kind": "arrhenius", "activation_k": 5000.0, "reference_c": 20.0},
    "lowest_c": 5.0,
    "highest_c": 30.0,
    "walk_after_hours": 24.0,
    "next_layer_after_hours": 24.0,
    "heat_after_hours": 168.0,
    "frost_watch_hours": 24.0,
    "moisture": None,
}


ZONE = "Europe/Oslo"


class ContractorFactory(DjangoModelFactory):
    class Meta:
        model = Contractor

    name = Sequence("Contractor {}".format)
    phone = "+47 55 00 00 01"
    time_zone = ZONE


class MemberFactory(DjangoModelFactory):
    class Meta:
        model = Member

    contractor = SubFactory(ContractorFactory)
    name = Sequence("Member {}".format)
    email = Sequence("member{}@alder.example".format)
    role = "office"
    password = "!"  # nobody logs in with it


class CustomerFactory(DjangoModelFactory):
    class Meta:
        model = Customer

    contractor = SubFactory(ContractorFactory)
    name = Sequence("Customer {}".format)
    email = Sequence("customer{}@home.example".format)


class JobFactory(DjangoModelFactory):
    class Meta:
        model = Job

    customer = SubFactory(CustomerFactory, contractor=SelfAttribute("..contractor"))
    contractor = SubFactory(ContractorFactory)
    number = Sequence(lambda n: n + 1)
    title = "Warm floors"
    street = "14 Mill Lane"
    city = "Nordby"
    country = "NO"
    time_zone = ZONE
    units = "metric"
    supply_volts = 230.0
    code_profile = "iec"


class RoomFactory(DjangoModelFactory):
    class Meta:
        model = Room

    contractor = SubFactory(ContractorFactory)
    job = SubFactory(JobFactory, contractor=SelfAttribute("..contractor"))
    name = Sequence("Room {}".format)
    outline = LazyAttribute(lambda _: [[0, 0], [3000, 0], [3000, 2400], [0, 2400]])
    required = LazyAttribute(
        lambda _: ["check:arrival", "check:laid", "check:covered", "sensor", "control"]
    )


class ExportFactory(DjangoModelFactory):
    class Meta:
        model = Export

    contractor = SubFactory(ContractorFactory)
    asked_at = NOW
    asked_by = SubFactory(MemberFactory, contractor=SelfAttribute("..contractor"))


class LayingSearchFactory(DjangoModelFactory):
    class Meta:
        model = LayingSearch

    contractor = SubFactory(ContractorFactory)
    room = SubFactory(RoomFactory, contractor=SelfAttribute("..contractor"))
    room_version = 1
    problem = LazyAttribute(lambda _: {})
    asked_at = NOW
    asked_by = SubFactory(MemberFactory, contractor=SelfAttribute("..contractor"))


class MaterialFactory(DjangoModelFactory):
    class Meta:
        model = Material

    contractor = SubFactory(ContractorFactory)
    name = Sequence("Material {}".format)
    kind = "mortar"
    sheet = "Sheet 7, 2026"
    curing = LazyAttribute(lambda row: dict(CURING_SPEC) if row.kind in CURING_KINDS else None)
    element = LazyAttribute(lambda row: dict(ELEMENT_SPEC) if row.kind == "element" else None)
    sensor = LazyAttribute(lambda row: dict(SENSOR_SPEC) if row.kind == "sensor" else None)
    control = LazyAttribute(lambda row: dict(CONTROL_SPEC) if row.kind == "control" else None)


class ElementFactory(DjangoModelFactory):
    class Meta:
        model = Element

    contractor = SubFactory(ContractorFactory)
    room = SubFactory(RoomFactory, contractor=SelfAttribute("..contractor"))
    material = SubFactory(MaterialFactory, contractor=SelfAttribute("..contractor"), kind="element")
    label = Sequence("E{}".format)
    serial = Sequence("SN-{:06d}".format)
    tag_ohms = 71.1


class FaultFoundFactory(DjangoModelFactory):
    class Meta:
        model = FaultFound

    contractor = SubFactory(ContractorFactory)
    element = SubFactory(ElementFactory, contractor=SelfAttribute("..contractor"))
    room = SelfAttribute("element.room")
    client_id = LazyAttribute(lambda _: uuid4())
    method = "bridge"
    construction = "single"
    measured_from = "A"
    fraction = 0.3
    tolerance = 0.02
    found_at = NOW
    received_at = NOW
    found_by = SubFactory(MemberFactory, contractor=SelfAttribute("..contractor"))


class FloorSensorFactory(DjangoModelFactory):
    class Meta:
        model = FloorSensor

    contractor = SubFactory(ContractorFactory)
    room = SubFactory(RoomFactory, contractor=SelfAttribute("..contractor"))
    material = SubFactory(MaterialFactory, contractor=SelfAttribute("..contractor"), kind="sensor")
    label = Sequence("S{}".format)


class ControlFactory(DjangoModelFactory):
    class Meta:
        model = Control

    contractor = SubFactory(ContractorFactory)
    room = SubFactory(RoomFactory, contractor=SelfAttribute("..contractor"))
    material = SubFactory(MaterialFactory, contractor=SelfAttribute("..contractor"), kind="control")
    label = Sequence("C{}".format)


class InstrumentFactory(DjangoModelFactory):
    class Meta:
        model = Instrument

    contractor = SubFactory(ContractorFactory)
    name = Sequence("Meter {}".format)


class InstrumentRangeFactory(DjangoModelFactory):
    class Meta:
        model = InstrumentRange

    contractor = SubFactory(ContractorFactory)
    instrument = SubFactory(InstrumentFactory, contractor=SelfAttribute("..contractor"))
    name = "200 Ω"
    quantity = "ohms"
    full_scale = 200.0
    resolution = 0.1
    percent_of_reading = 0.5
    digits = 2.0


class CheckFactory(DjangoModelFactory):
    """A check without readings; its chain holds if `sequence` and `previous_digest` do."""

    class Meta:
        model = Check

    contractor = SubFactory(ContractorFactory)
    room = SubFactory(RoomFactory, contractor=SelfAttribute("..contractor"))
    client_id = LazyAttribute(lambda _: uuid4())
    sequence = 1
    stage = "arrival"
    taken_at = NOW
    received_at = NOW
    taken_by = SubFactory(MemberFactory, contractor=SelfAttribute("..contractor"))
    outcome = "undecided"
    content = LazyAttribute(
        lambda row: digest.canonical(
            {
                "sent": {
                    "client_id": str(row.client_id),
                    "room": str(row.room.pk),
                    "stage": row.stage,
                    "taken_at": row.taken_at.isoformat(),
                    "supersedes": None,
                    "note": "",
                    "at_c": None,
                    "delivery": None,
                    "readings": [],
                },
                "accepted": {
                    "sequence": row.sequence,
                    "received_at": row.received_at.isoformat(),
                    "taken_by": str(row.taken_by.pk),
                    "outcome": row.outcome,
                    "flags": [],
                    "missing": [],
                    "next_steps": [],
                    "findings": [],
                    "readings": [],
                },
            }
        )
    )
    digest = LazyAttribute(lambda row: digest.digest_of(row.content, previous=row.previous_digest))
    previous_digest = ""


class ReadingFactory(DjangoModelFactory):
    class Meta:
        model = Reading

    contractor = SubFactory(ContractorFactory)
    visit = SubFactory(CheckFactory, contractor=SelfAttribute("..contractor"))
    position = 0
    kind = "supply"
    value = 230.0
    outcome = "pass"
    because = "Supply: 230 V lies inside 207.0 to 253.0\u00a0V, and this meter can tell."


class CrewFactory(DjangoModelFactory):
    class Meta:
        model = Crew

    contractor = SubFactory(ContractorFactory)
    name = Sequence("Crew {}".format)
    skills = LazyAttribute(lambda _: ["lay", "mortar", "tile", "electric"])
    works = LazyAttribute(lambda _: [[1, 1]] * 5 + [[0, 0]] * 2)


class CrewAbsenceFactory(DjangoModelFactory):
    class Meta:
        model = CrewAbsence

    contractor = SubFactory(ContractorFactory)
    crew = SubFactory(CrewFactory, contractor=SelfAttribute("..contractor"))
    day = date(2027, 3, 16)
    half = "am"


class ToolFactory(DjangoModelFactory):
    class Meta:
        model = Tool

    contractor = SubFactory(ContractorFactory)
    name = Sequence("Tool {}".format)
    capacity = 1


class BookingFactory(DjangoModelFactory):
    class Meta:
        model = Booking

    contractor = SubFactory(ContractorFactory)
    crew = SubFactory(CrewFactory, contractor=SelfAttribute("..contractor"))
    job = SubFactory(JobFactory, contractor=SelfAttribute("..contractor"))
    day = date(2027, 3, 15)
    half = "am"
    task = "lay"
    span = LazyAttribute(lambda _: uuid4())
    booked_at = NOW
    booked_by = SubFactory(MemberFactory, contractor=SelfAttribute("..contractor"))


class PlanFactory(DjangoModelFactory):
    """A proposal of nothing, for nothing."""

    class Meta:
        model = Plan

    contractor = SubFactory(ContractorFactory)
    state = "proposed"
    problem = LazyAttribute(
        lambda _: {
            "start": "2027-03-11", "half_days": 360, "crews": [], "pools": [], "tasks": [],
            "links": [], "jobs": [], "previous": None,
            "options": {"frozen_days": 0, "lateness_first": False},
        }
    )  # fmt: skip
    facts_digest = "0" * 64
    seconds = 1.0
    seed = 1
    plan = LazyAttribute(lambda _: {"bookings": [], "unplanned": []})
    asked_at = NOW
    asked_by = SubFactory(MemberFactory, contractor=SelfAttribute("..contractor"))


class VisitFactory(DjangoModelFactory):
    class Meta:
        model = Visit

    contractor = SubFactory(ContractorFactory)
    job = SubFactory(JobFactory, contractor=SelfAttribute("..contractor"))
    trade = "plumber"
    company = "Brook & Weir"
    activities = LazyAttribute(lambda _: ["walking"])
    starts_at = NOW
    ends_at = NOW + timedelta(hours=2)


class NoticeFactory(DjangoModelFactory):
    class Meta:
        model = Notice

    contractor = SubFactory(ContractorFactory)
    visit = SubFactory(VisitFactory, contractor=SelfAttribute("..contractor"))
    content = LazyAttribute(lambda _: {})
    made_at = NOW
    send_after = NOW


class VisitingTradeFactory(DjangoModelFactory):
    class Meta:
        model = VisitingTrade

    contractor = SubFactory(ContractorFactory)
    job = SubFactory(JobFactory, contractor=SelfAttribute("..contractor"))
    trade = "plumber"
    company = Sequence("Weir {}".format)
    activities = LazyAttribute(lambda _: ["walking", "drilling"])


class WebhookFactory(DjangoModelFactory):
    """One that is told everything."""

    class Meta:
        model = Webhook

    contractor = SubFactory(ContractorFactory)
    url = Sequence("https://receiver.example/{}".format)
    events = LazyAttribute(lambda _: list(EVENTS))
    made_at = NOW
    made_by = SubFactory(MemberFactory, contractor=SelfAttribute("..contractor"))


class DeliveryFactory(DjangoModelFactory):
    class Meta:
        model = Delivery

    contractor = SubFactory(ContractorFactory)
    webhook = SubFactory(WebhookFactory, contractor=SelfAttribute("..contractor"))
    event = "check.recorded"
    body = "{}"
    made_at = NOW
    send_after = NOW


class CertificateFactory(DjangoModelFactory):
    """A certificate that waits for its PDF; its record is empty."""

    class Meta:
        model = Certificate

    contractor = SubFactory(ContractorFactory)
    job = SubFactory(JobFactory, contractor=SelfAttribute("..contractor"))
    number = Sequence("2027-{:04d}".format)
    data = LazyAttribute(lambda _: {})
    data_digest = "0" * 64
    issued_at = NOW
    issued_by = SubFactory(MemberFactory, contractor=SelfAttribute("..contractor"))


class LayerFactory(DjangoModelFactory):
    """A layer that is only planned; placed if `placed_at` and `placed_by` are given."""

    class Meta:
        model = Layer

    contractor = SubFactory(ContractorFactory)
    room = SubFactory(RoomFactory, contractor=SelfAttribute("..contractor"))
    material = SubFactory(MaterialFactory, contractor=SelfAttribute("..contractor"))
    position = Sequence(lambda n: n + 1)
    embeds = True


class PromiseFactory(DjangoModelFactory):
    class Meta:
        model = Promise

    contractor = SubFactory(ContractorFactory)
    room = SubFactory(RoomFactory, contractor=SelfAttribute("..contractor"))
    starts_at = NOW
    ends_at = datetime(2027, 3, 20, 7, tzinfo=UTC)
    celsius = 18.0
    made_at = NOW
    made_by = SubFactory(MemberFactory, contractor=SelfAttribute("..contractor"))
