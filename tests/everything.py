"""A company with at least one row in each table that goes with a contractor. All invented."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.test import override_settings

from config.celery import app
from jobs.models import Contractor, Erasure, PhotoScale, RoomPhoto
from readings.models import MonitorEvent, SiteTemperature
from scheduling.actions.certificates import issue_certificate, void_certificate
from scheduling.actions.papers import make_pdf
from scheduling.models import CalendarEntry, Evidence, VisitingTrade
from tests.factories import (
    ContractorFactory,
    CrewAbsenceFactory,
    CustomerFactory,
    FaultFoundFactory,
    LayingSearchFactory,
    MemberFactory,
    PlanFactory,
    PromiseFactory,
    ToolFactory,
)
from tests.pages import world
from tests.scheduling.finished import Finished


@contextmanager
def files_in(folder: Path) -> Iterator[None]:
    """Papers of a test lie in a folder of its own, and nothing is sent to a worker."""
    from django.conf import settings

    storages = {**settings.STORAGES}
    storages["default"] = {**storages["default"], "OPTIONS": {"location": folder}}
    with override_settings(STORAGES=storages), pytest.MonkeyPatch.context() as patch:
        patch.setattr(app, "send_task", lambda *args, **kwargs: None)
        yield


def build(name: str, now: datetime) -> Contractor:
    """The company; its files go where the settings say."""
    alder = ContractorFactory(name=name)
    own: dict[str, Any] = {"contractor": alder}
    olive = MemberFactory(name="Olive", role="office", **own)
    finn = MemberFactory(name="Finn", role="field", **own)
    small = world.build(olive, finn, now)
    site = Finished(olive, now)
    first = issue_certificate(by=olive, job=site.job, at=now)
    make_pdf(certificate_id=first.pk, at=now)
    void_certificate(by=olive, certificate=first, reason="A serial was wrong.", at=now)
    second = issue_certificate(by=olive, job=site.job, at=now)
    make_pdf(certificate_id=second.pk, at=now)
    PromiseFactory(made_by=olive, room=site.room, **own)
    ToolFactory(**own)
    CrewAbsenceFactory(**own)
    PlanFactory(asked_by=olive, **own)
    LayingSearchFactory(asked_by=olive, room=site.room, **own)
    once = {"client_id": uuid4(), "at": now, "received_at": now, **own}
    SiteTemperature.objects.create(
        job=site.job, room=site.room, celsius=18.1, source="logger", taken_by=finn, **once
    )
    MonitorEvent.objects.create(element=site.element, kind="alive", **once)
    FaultFoundFactory(
        element=site.element,
        found_by=finn,
        note="½″ off",
        found_at=now - timedelta(days=40),
        voided_at=now,
        voided_by=olive,
        void_reason="The leads were swapped.",
        **own,
    )
    Evidence.objects.create(
        room=site.room,
        kind="sensor",
        outcome="pass",
        note="½″ off \\ “quoted”\n",
        recorded_by=finn,
        **once,
    )
    trade = VisitingTrade.objects.create(
        job=site.job, trade="tiler", company="Slate & Sons", activities=["walking"], **own
    )
    CalendarEntry.objects.create(
        kind="visit",
        key="visit-1",
        job=site.job,
        room=site.room,
        trade=trade,
        starts_at=now,
        ends_at=now + timedelta(hours=1),
        changed_at=now,
        **own,
    )
    photo = RoomPhoto.objects.create(
        room=site.room,
        jpeg=bytes(range(256)) * 4,
        digest="0" * 64,
        width_px=32,
        height_px=32,
        size_bytes=1024,
        received_at=now,
        taken_by=finn,
        **own,
    )
    PhotoScale.objects.create(
        photo=photo,
        points=[],
        matrix=[[1 / 3, 0, 1e-17], [0, 0.1, 1e300], [0, 0, 1]],
        tolerance_mm=30.1,
        because="Four points.",
        set_at=now,
        set_by=finn,
        **own,
    )
    gone = CustomerFactory(name="Personal data removed", email="", **own)
    Erasure.objects.create(customer=gone, erased_at=now - timedelta(days=1), erased_by=olive, **own)
    assert small.job.contractor_id == alder.pk
    return alder
