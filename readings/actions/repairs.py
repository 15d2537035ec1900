"""A repair joint: a new thing on the element's record, after which its readings are due again."""

from datetime import datetime

from django.db import transaction

from config.errors import DomainError
from jobs.actions.refreshing import refresh_room
from jobs.models import Element
from readings.actions.temperatures import NotYet
from readings.flags import CLOCK_WRONG


class JointOffElement(DomainError):
    slug = "not-acceptable"


@transaction.atomic
def add_joint(
    *, element: Element, chainage_mm: float, joined_at: datetime, note: str, at: datetime
) -> Element:
    """Put a joint on an element's record, the same one only once. Raises JointOffElement, NotYet.

    `chainage_mm` is metres of heating cable from the cold splice, in millimetres.
    """
    locked = Element.objects.select_for_update().select_related("material").get(pk=element.pk)
    length = (locked.material.element or {})["wire_mm"]
    if chainage_mm > length:
        raise JointOffElement(
            f"{locked.label} has {length / 1000:g} m of heating cable; the joint cannot lie at "
            f"{chainage_mm / 1000:g} m.",
            pointer="#/chainage_mm",
        )
    if joined_at - at > CLOCK_WRONG:
        raise NotYet("This time is still to come.", pointer="#/joined_at")
    joint = {"chainage_mm": chainage_mm, "joined_at": joined_at.isoformat(), "note": note}
    if joint not in locked.joints:
        locked.joints = [*locked.joints, joint]
        locked.version += 1
        locked.save(update_fields=["joints", "version"])
        refresh_room(locked.room_id)
    return locked
