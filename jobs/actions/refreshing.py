"""What depends on the facts of a room is worked out anew, by whoever that is, once one changes."""

from uuid import UUID

from config.celery import wake


def refresh_room(room_id: UUID) -> None:
    """A fact of one room changed."""
    wake("scheduling.tasks.refresh_room", room_id)


def refresh_job(job_id: UUID) -> None:
    """A fact of all rooms of a job changed."""
    wake("scheduling.tasks.refresh_job", job_id)
