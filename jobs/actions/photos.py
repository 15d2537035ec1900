"""Photographs of floors: kept once, and set against the outline by points of known place."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from jobs import asbuilt, photo
from jobs.models import Member, PhotoScale, Room, RoomPhoto
from jobs.outline import Point


@transaction.atomic
def keep_photo(*, by: Member, room: Room, data: bytes, at: datetime) -> RoomPhoto:
    """Keep what is seen in a file, once however often it is sent; raises UnusablePhoto."""
    clean = photo.cleaned(data)
    Room.objects.select_for_update().get(pk=room.pk)  # the same picture twice at once is one row
    if kept := RoomPhoto.objects.visible_to(by).filter(room=room, digest=clean.digest).first():
        return kept
    return RoomPhoto.objects.create(
        contractor_id=room.contractor_id,
        room=room,
        jpeg=clean.jpeg,
        digest=clean.digest,
        width_px=clean.width_px,
        height_px=clean.height_px,
        size_bytes=len(clean.jpeg),
        received_at=at,
        taken_by=by,
    )


def set_scale(
    *, by: Member, photo: RoomPhoto, points: Sequence[tuple[Point, Point]], at: datetime
) -> PhotoScale:
    """Set a photo against the outline by (pixel, floor mm) pairs; raises UnusableChange."""
    scale = asbuilt.photo_scale(points)
    return PhotoScale.objects.create(
        contractor_id=photo.contractor_id,
        photo=photo,
        points=[{"pixel": pixel, "floor_mm": floor} for pixel, floor in points],
        matrix=scale.matrix.tolist(),
        tolerance_mm=scale.tolerance_mm,
        because=scale.because,
        set_at=at,
        set_by=by,
    )
