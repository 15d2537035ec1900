"""What is built and where: people, places, rooms, materials, elements, papers' links."""

from jobs.models.laying import LayingPlan, LayingSearch
from jobs.models.leaving import Erasure, Export
from jobs.models.links import Link
from jobs.models.materials import Control, Element, FloorSensor, InstalledModel, Material
from jobs.models.people import LANGUAGES, UNITS, Contractor, Member
from jobs.models.rooms import KeepOut, PhotoScale, Room, RoomPhoto
from jobs.models.search import Digits
from jobs.models.webhooks import Delivery, DeliveryAttempt, Webhook
from jobs.models.work import Customer, Job, JobImport

__all__ = [
    "LANGUAGES",
    "UNITS",
    "Contractor",
    "Control",
    "Customer",
    "Delivery",
    "DeliveryAttempt",
    "Digits",
    "Element",
    "Erasure",
    "Export",
    "FloorSensor",
    "InstalledModel",
    "Job",
    "JobImport",
    "KeepOut",
    "LayingPlan",
    "LayingSearch",
    "Link",
    "Material",
    "Member",
    "PhotoScale",
    "Room",
    "RoomPhoto",
    "Webhook",
]
