"""Every route × whoever may knock: red when a route is missing here.

Each request is the same for all who ask, so that a refusal can only be about who asks. A write
goes out with an empty body: whoever may write is told what the body lacks (422, or 428 where a
version has to be named first).
"""

from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.db import transaction
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from config.models import DeviceToken
from jobs.models import JobImport, Link, Member, RoomPhoto
from scheduling.actions.decisions import refresh
from scheduling.actions.feeds import make_feed
from tests.factories import (
    NOW,
    BookingFactory,
    CertificateFactory,
    CheckFactory,
    ControlFactory,
    CrewAbsenceFactory,
    CrewFactory,
    CustomerFactory,
    DeliveryFactory,
    ElementFactory,
    ExportFactory,
    FaultFoundFactory,
    FloorSensorFactory,
    InstrumentFactory,
    JobFactory,
    LayerFactory,
    LayingSearchFactory,
    MaterialFactory,
    MemberFactory,
    NoticeFactory,
    PlanFactory,
    PromiseFactory,
    ReadingFactory,
    RoomFactory,
    ToolFactory,
    VisitFactory,
    VisitingTradeFactory,
    WebhookFactory,
)

WHO = ("olive", "finn", "vera", "bo", "nobody")


def answers(olive: int, finn: int, vera: int, bo: int, nobody: int = 401) -> dict[str, int]:
    return dict(zip(WHO, (olive, finn, vera, bo, nobody), strict=True))


ALL = answers(200, 200, 200, 200)  # a list: everybody sees their own
READ = answers(200, 200, 200, 404)  # one row of Alder's
OFFICE_ADDS = answers(422, 403, 403, 422)
OFFICE_LOOKS = answers(200, 403, 403, 200)  # addresses of other systems may hold keys
BOTH_ADD = answers(422, 422, 403, 422)
OFFICE_EDITS = answers(428, 403, 403, 404)
BOTH_EDIT = answers(428, 428, 403, 404)
OFFICE_REVOKES = answers(204, 403, 403, 404)
OPEN = answers(200, 200, 200, 200, 200)

# (method, route) -> answers. A row's route has its id from `things` below.
ACCESS: dict[tuple[str, str], dict[str, int]] = {
    ("GET", "api-schema"): OPEN,
    ("GET", "api-docs"): OPEN,
    ("GET", "api-me"): ALL,
    ("GET", "api-members"): ALL,
    ("GET", "api-tokens"): ALL,
    ("POST", "api-token-issue"): answers(422, 422, 422, 422, 422),
    ("DELETE", "api-token"): answers(204, 404, 404, 404),  # Olive's own phone
    ("GET", "api-customers"): ALL,
    ("POST", "api-customers"): OFFICE_ADDS,
    ("GET", "api-customer"): READ,
    ("PATCH", "api-customer"): OFFICE_EDITS,
    ("GET", "api-jobs"): ALL,
    ("POST", "api-jobs"): OFFICE_ADDS,
    ("GET", "api-job"): READ,
    ("PATCH", "api-job"): OFFICE_EDITS,
    ("GET", "api-rooms"): ALL,
    ("POST", "api-rooms"): OFFICE_ADDS,
    ("GET", "api-room"): READ,
    ("PATCH", "api-room"): OFFICE_EDITS,
    ("POST", "api-outlines"): answers(422, 422, 422, 422),  # works out, stores nothing
    ("GET", "api-heatable-area"): READ,
    ("GET", "api-survey"): READ,
    ("PUT", "api-survey"): OFFICE_EDITS,
    ("POST", "api-heat"): answers(422, 422, 422, 404),
    ("POST", "api-laying-searches"): answers(422, 422, 403, 404),  # no control yet
    ("GET", "api-laying-search"): READ,
    ("POST", "api-laying-search-stop"): answers(200, 200, 403, 404),
    ("GET", "api-laying-plans"): READ,
    ("POST", "api-laying-plans"): answers(422, 422, 403, 404),
    ("POST", "api-as-laid"): answers(422, 422, 403, 404),
    ("GET", "api-room-photos"): READ,
    ("POST", "api-room-photos"): answers(422, 422, 403, 404),
    ("GET", "api-photo-image"): READ,
    ("GET", "api-photo-scales"): READ,
    ("POST", "api-photo-scales"): answers(422, 422, 403, 404),
    ("GET", "api-plan-table"): READ,
    ("GET", "api-plan-svg"): READ,
    ("GET", "api-plan-geojson"): READ,
    ("GET", "api-plan-dxf"): READ,
    ("GET", "api-clearance"): answers(422, 422, 422, 404),
    ("GET", "api-circuit"): READ,
    ("GET", "api-take-off"): READ,
    ("GET", "api-take-off-csv"): READ,
    ("GET", "api-generic-materials"): ALL,
    ("POST", "api-generic-materials"): OFFICE_ADDS,
    ("GET", "api-materials"): ALL,
    ("POST", "api-materials"): OFFICE_ADDS,
    ("GET", "api-material"): READ,
    ("PATCH", "api-material"): OFFICE_EDITS,
    ("DELETE", "api-material"): OFFICE_EDITS,
    ("GET", "api-elements"): ALL,
    ("POST", "api-elements"): BOTH_ADD,
    ("GET", "api-element"): READ,
    ("PATCH", "api-element"): BOTH_EDIT,
    ("GET", "api-floor-sensors"): ALL,
    ("POST", "api-floor-sensors"): BOTH_ADD,
    ("GET", "api-floor-sensor"): READ,
    ("PATCH", "api-floor-sensor"): BOTH_EDIT,
    ("GET", "api-controls"): ALL,
    ("POST", "api-controls"): BOTH_ADD,
    ("GET", "api-control"): READ,
    ("PATCH", "api-control"): BOTH_EDIT,
    ("GET", "api-exports"): answers(200, 403, 403, 200),
    ("POST", "api-exports"): answers(202, 403, 403, 202),
    ("GET", "api-export"): answers(200, 403, 403, 404),
    ("GET", "api-export-file"): answers(409, 403, 403, 404),  # not made yet
    ("GET", "api-erasure"): answers(404, 404, 404, 404),  # nothing is erased
    ("POST", "api-erasure"): answers(422, 403, 403, 404),
    ("GET", "api-links"): ALL,
    ("POST", "api-links"): OFFICE_ADDS,
    ("DELETE", "api-link"): OFFICE_REVOKES,
    ("GET", "api-webhooks"): OFFICE_LOOKS,
    ("POST", "api-webhooks"): OFFICE_ADDS,
    ("GET", "api-webhook"): answers(200, 403, 403, 404),
    ("PATCH", "api-webhook"): OFFICE_EDITS,
    ("DELETE", "api-webhook"): OFFICE_EDITS,
    ("POST", "api-webhook-secret"): OFFICE_EDITS,
    ("POST", "api-webhook-on"): answers(200, 403, 403, 404),
    ("POST", "api-webhook-trial"): answers(202, 403, 403, 404),
    ("POST", "api-webhook-replay"): answers(422, 403, 403, 404),
    ("GET", "api-deliveries"): OFFICE_LOOKS,
    ("GET", "api-delivery"): answers(200, 403, 403, 404),
    ("POST", "api-delivery-replay"): answers(202, 403, 403, 404),
    ("GET", "api-instruments"): ALL,
    ("POST", "api-instruments"): BOTH_ADD,
    ("GET", "api-instrument"): READ,
    ("PATCH", "api-instrument"): BOTH_EDIT,
    ("POST", "api-instrument-ranges"): answers(422, 422, 403, 404),
    ("GET", "api-checks"): ALL,
    ("POST", "api-checks"): BOTH_ADD,
    ("POST", "api-check-batch"): BOTH_ADD,
    ("GET", "api-check"): READ,
    ("GET", "api-site-temperatures"): ALL,
    ("POST", "api-site-temperatures"): BOTH_ADD,
    ("POST", "api-site-temperature-batch"): BOTH_ADD,
    ("POST", "api-site-temperature-log"): BOTH_ADD,
    ("GET", "api-sensor-curves"): ALL,
    ("GET", "api-reading-sets"): READ,
    ("GET", "api-chain"): READ,
    ("GET", "api-suitable-ranges"): READ,
    ("GET", "api-trend"): READ,
    ("GET", "api-monitor-events"): READ,
    ("POST", "api-monitor-events"): answers(422, 422, 403, 404),
    ("POST", "api-fault"): answers(422, 422, 403, 404),
    ("GET", "api-faults"): ALL,
    ("POST", "api-faults"): BOTH_ADD,
    ("GET", "api-fault-found"): READ,
    ("POST", "api-fault-void"): answers(422, 422, 403, 404),
    ("GET", "api-joints"): READ,
    ("POST", "api-joints"): answers(422, 422, 403, 404),
    ("GET", "api-layers"): ALL,
    ("POST", "api-layers"): BOTH_ADD,
    ("GET", "api-layer"): READ,
    ("PATCH", "api-layer"): BOTH_EDIT,
    ("DELETE", "api-layer"): BOTH_EDIT,
    ("GET", "api-evidence"): ALL,
    ("POST", "api-evidence"): BOTH_ADD,
    ("GET", "api-promises"): ALL,
    ("POST", "api-promises"): BOTH_ADD,
    ("DELETE", "api-promise"): answers(204, 204, 403, 404),
    ("GET", "api-energize"): READ,
    ("POST", "api-energize"): answers(422, 422, 403, 404),
    ("GET", "api-cure-chart"): READ,
    ("GET", "api-warm-up"): READ,
    ("POST", "api-warm-up"): answers(422, 422, 403, 404),
    ("GET", "api-warm-up-calendar"): READ,
    ("POST", "api-warm-up-resume"): answers(409, 409, 403, 404),
    ("POST", "api-what-if"): answers(422, 422, 422, 404),  # asking changes nothing
    ("GET", "api-decisions"): READ,
    ("GET", "api-decision"): READ,
    ("GET", "api-derivation"): READ,
    ("GET", "api-crews"): ALL,
    ("POST", "api-crews"): OFFICE_ADDS,
    ("GET", "api-crew"): READ,
    ("PATCH", "api-crew"): OFFICE_EDITS,
    ("GET", "api-crew-absences"): READ,
    ("POST", "api-crew-absences"): answers(422, 403, 403, 404),
    ("DELETE", "api-absence"): OFFICE_REVOKES,
    ("GET", "api-tools"): ALL,
    ("POST", "api-tools"): OFFICE_ADDS,
    ("PATCH", "api-tool"): OFFICE_EDITS,
    ("GET", "api-visits"): ALL,
    ("POST", "api-visits"): OFFICE_ADDS,
    ("GET", "api-visit"): READ,
    ("PATCH", "api-visit"): OFFICE_EDITS,
    ("DELETE", "api-visit"): OFFICE_EDITS,
    ("POST", "api-visit-import"): OFFICE_ADDS,
    ("GET", "api-trades"): ALL,
    ("POST", "api-trades"): OFFICE_ADDS,
    ("POST", "api-trade-link"): answers(201, 403, 403, 404),
    ("GET", "api-feeds"): ALL,
    ("POST", "api-feeds"): answers(201, 403, 403, 201),
    ("GET", "api-notices"): ALL,
    ("POST", "api-notice-link"): answers(201, 403, 403, 404),
    ("GET", "api-public-notice"): answers(404, 404, 404, 404, 404),  # a guessed link
    ("POST", "api-public-notice"): answers(404, 404, 404, 404, 404),
    ("GET", "api-exposure"): READ,
    ("GET", "api-plans"): ALL,
    ("POST", "api-plans"): OFFICE_ADDS,
    ("GET", "api-plan"): READ,
    ("GET", "api-plan-picture"): READ,
    ("POST", "api-plan-accept"): answers(409, 403, 403, 404),  # facts have changed
    ("POST", "api-plan-cancel"): answers(200, 403, 403, 404),
    ("GET", "api-bookings"): ALL,
    ("POST", "api-bookings"): OFFICE_ADDS,
    ("GET", "api-booking"): READ,
    ("PATCH", "api-booking"): OFFICE_EDITS,
    ("DELETE", "api-booking"): OFFICE_EDITS,
    ("GET", "api-handover"): READ,
    ("GET", "api-sign-offs"): ALL,
    ("POST", "api-sign-offs"): BOTH_ADD,
    ("GET", "api-certificates"): ALL,
    ("POST", "api-certificates"): OFFICE_ADDS,
    ("GET", "api-certificate"): READ,
    ("GET", "api-certificate-data"): READ,
    ("GET", "api-certificate-pdf"): answers(409, 409, 409, 404),  # not made yet
    ("POST", "api-certificate-void"): answers(422, 403, 403, 404),
    ("POST", "api-certificate-links"): answers(201, 403, 403, 404),
}

# Pages send nobody to the log-in.
PAGES = answers(200, 200, 200, 200, 302)
PAGE = answers(200, 200, 200, 404, 302)
FORM = answers(200, 403, 403, 200, 302)  # the office opens and fills it
FORM_SENT = answers(422, 403, 403, 422, 302)
FORM_OF_ROW = answers(200, 403, 403, 404, 302)
FORM_OF_ROW_SENT = answers(422, 403, 403, 404, 302)
BOTH_FORM = answers(200, 200, 403, 404, 302)
BOTH_FORM_SENT = answers(422, 422, 403, 404, 302)
NO_LINK = answers(404, 404, 404, 404, 404)

ACCESS |= {
    ("GET", "problem-type"): OPEN,
    ("GET", "login"): answers(302, 302, 302, 302, 200),  # whoever is in goes on
    ("POST", "login"): answers(302, 302, 302, 302, 422),
    ("POST", "logout"): answers(302, 302, 302, 302, 302),
    ("GET", "own-settings"): PAGES,
    ("POST", "own-settings"): answers(422, 422, 422, 422, 302),
    ("GET", "password-change"): PAGES,
    ("POST", "password-change"): answers(422, 422, 422, 422, 302),
    ("GET", "password-reset"): OPEN,
    ("POST", "password-reset"): answers(422, 422, 422, 422, 422),
    ("GET", "password-reset-sent"): OPEN,
    ("GET", "password-set"): OPEN,
    ("POST", "password-set"): OPEN,  # a link that opens nothing is told so
    ("GET", "home"): PAGES,
    ("GET", "jobs"): PAGES,
    ("GET", "job"): PAGE,
    ("GET", "job-lanes"): PAGE,
    ("GET", "job-lists"): FORM,
    ("POST", "job-lists"): FORM_SENT,
    ("GET", "job-list"): FORM_OF_ROW,
    ("POST", "job-list"): answers(302, 403, 403, 404, 302),
    ("POST", "sample-add"): answers(302, 403, 403, 302, 302),
    ("POST", "sample-end"): answers(302, 403, 403, 302, 302),
    ("GET", "job-add"): answers(302, 403, 403, 302, 302),  # first the customer
    ("POST", "job-add"): FORM_SENT,
    ("GET", "job-edit"): FORM_OF_ROW,
    ("POST", "job-edit"): FORM_OF_ROW_SENT,
    ("GET", "room"): PAGE,
    ("GET", "room-curing"): PAGE,
    ("GET", "room-add"): FORM_OF_ROW,
    ("POST", "room-add"): FORM_OF_ROW_SENT,
    ("GET", "room-edit"): FORM_OF_ROW,
    ("POST", "room-edit"): FORM_OF_ROW_SENT,
    ("GET", "room-plans"): PAGE,
    ("POST", "room-plans"): BOTH_FORM_SENT,
    ("GET", "laying-search"): answers(302, 302, 302, 404, 302),  # a fragment of the room's page
    ("POST", "laying-search"): BOTH_FORM_SENT,
    ("GET", "room-as-laid"): BOTH_FORM,
    ("POST", "room-as-laid"): BOTH_FORM_SENT,
    ("GET", "room-photos"): PAGE,
    ("POST", "room-photos"): BOTH_FORM_SENT,
    ("GET", "photo"): PAGE,
    ("POST", "photo"): BOTH_FORM_SENT,
    ("POST", "photo-marks"): BOTH_FORM_SENT,
    ("GET", "photo-image"): PAGE,
    ("GET", "room-survey"): PAGE,
    ("POST", "room-survey"): answers(422, 403, 403, 404, 302),
    ("GET", "room-circuit"): PAGE,
    ("GET", "room-heat"): PAGE,
    ("GET", "room-order"): PAGE,
    ("GET", "room-order-file"): PAGE,
    ("GET", "room-fasten"): PAGE,
    ("GET", "room-sheet"): PAGE,
    ("GET", "room-fault"): PAGE,
    ("GET", "checks"): PAGE,
    ("GET", "customers"): PAGES,
    ("GET", "customer-add"): FORM,
    ("POST", "customer-add"): FORM_SENT,
    ("GET", "customer"): PAGE,
    ("GET", "customer-edit"): FORM_OF_ROW,
    ("POST", "customer-edit"): FORM_OF_ROW_SENT,
    ("GET", "customer-erase"): FORM_OF_ROW,
    ("POST", "customer-erase"): answers(302, 403, 403, 404, 302),
    ("GET", "leaving"): FORM,
    ("POST", "leaving"): answers(302, 403, 403, 302, 302),
    ("GET", "job-close"): FORM_OF_ROW,
    ("POST", "job-close"): answers(302, 403, 403, 404, 302),
    ("GET", "catalogue"): PAGES,
    ("GET", "material"): PAGE,
    ("GET", "meters"): PAGES,
    ("GET", "meter-add"): answers(200, 200, 403, 200, 302),
    ("POST", "meter-add"): answers(422, 422, 403, 422, 302),
    ("GET", "meter"): PAGE,
    ("POST", "meter"): BOTH_FORM_SENT,
    ("GET", "meter-edit"): BOTH_FORM,
    ("POST", "meter-edit"): BOTH_FORM_SENT,
    ("GET", "meter-retire"): BOTH_FORM,
    ("POST", "meter-retire"): answers(302, 302, 403, 404, 302),
    ("GET", "crews"): PAGES,
    ("GET", "crew-add"): FORM,
    ("POST", "crew-add"): FORM_SENT,
    ("GET", "crew"): PAGE,
    ("POST", "crew"): FORM_OF_ROW_SENT,
    ("GET", "crew-edit"): FORM_OF_ROW,
    ("POST", "crew-edit"): FORM_OF_ROW_SENT,
    ("GET", "crew-retire"): FORM_OF_ROW,
    ("POST", "crew-retire"): answers(302, 403, 403, 404, 302),
    ("POST", "absence-end"): answers(302, 403, 403, 404, 302),
    ("GET", "tool-add"): FORM,
    ("POST", "tool-add"): FORM_SENT,
    ("GET", "material-add"): FORM,
    ("POST", "material-add"): FORM_SENT,
    ("GET", "material-edit"): FORM_OF_ROW,
    ("POST", "material-edit"): FORM_OF_ROW_SENT,
    ("GET", "material-retire"): FORM_OF_ROW,
    ("POST", "material-retire"): answers(302, 403, 403, 404, 302),
    ("GET", "generic-add"): FORM,
    ("POST", "generic-add"): FORM_SENT,
    ("GET", "people"): PAGES,
    ("GET", "first"): NO_LINK,
    ("POST", "first"): NO_LINK,
    ("GET", "company"): FORM,
    ("POST", "company"): FORM_SENT,
    ("GET", "devices"): PAGES,
    ("POST", "devices"): answers(422, 422, 422, 422, 302),
    ("POST", "device-end"): answers(302, 404, 404, 404, 302),  # Olive's own phone
    ("GET", "invite"): FORM,
    ("POST", "invite"): FORM_SENT,
    ("GET", "member-edit"): FORM_OF_ROW,
    ("POST", "member-edit"): FORM_OF_ROW_SENT,
    ("POST", "invite-again"): FORM_OF_ROW,
    ("GET", "member-end"): FORM_OF_ROW,
    ("POST", "member-end"): answers(302, 403, 403, 404, 302),
    ("GET", "webhooks"): FORM,
    ("POST", "webhooks"): FORM_SENT,
    ("GET", "webhook"): FORM_OF_ROW,
    ("POST", "webhook"): answers(302, 403, 403, 404, 302),
    ("GET", "delivery"): FORM_OF_ROW,
    ("POST", "delivery"): answers(302, 403, 403, 404, 302),
    ("GET", "search"): PAGES,
    ("GET", "plan"): PAGES,
    ("POST", "plan-ask"): answers(302, 403, 403, 302, 302),
    ("GET", "proposal"): PAGE,
    ("POST", "proposal"): answers(302, 403, 403, 404, 302),
    ("GET", "today"): PAGES,
    ("GET", "day-sheets"): PAGES,
    ("GET", "field-room"): PAGE,
    ("GET", "place-layer"): PAGE,
    ("POST", "place-layer"): answers(422, 422, 403, 404, 302),
    ("GET", "measure"): PAGE,
    ("GET", "measure-step"): PAGE,
    ("POST", "measure-step"): answers(422, 422, 403, 404, 302),
    ("GET", "verdict"): PAGE,
    ("POST", "moves-read"): answers(302, 403, 403, 404, 302),
    ("GET", "what-if"): PAGE,
    ("GET", "warm-up"): PAGE,
    ("POST", "warm-up"): answers(422, 422, 403, 404, 302),
    ("POST", "warm-up-resume"): answers(422, 422, 403, 404, 302),
    ("GET", "warm-up-calendar"): PAGE,
    ("GET", "field-warm-up"): PAGE,
    ("POST", "field-warm-up"): answers(422, 422, 403, 404, 302),
    ("GET", "thermometer"): PAGE,
    ("POST", "thermometer"): answers(422, 422, 403, 404, 302),
    ("GET", "outbox"): PAGES,
    ("GET", "offline"): OPEN,
    ("GET", "manifest"): OPEN,
    ("GET", "service-worker"): OPEN,
    ("GET", "install"): BOTH_FORM,
    ("POST", "install"): BOTH_FORM_SENT,
    ("GET", "booking"): FORM_OF_ROW,
    ("POST", "booking"): FORM_OF_ROW_SENT,
    ("GET", "layer-add"): BOTH_FORM,
    ("POST", "layer-add"): BOTH_FORM_SENT,
    ("GET", "fault-add"): BOTH_FORM,
    ("POST", "fault-add"): BOTH_FORM_SENT,
    ("GET", "fault-found"): PAGE,
    ("GET", "fault-void"): BOTH_FORM,
    ("POST", "fault-void"): BOTH_FORM_SENT,
    ("GET", "proof-add"): BOTH_FORM,
    ("POST", "proof-add"): BOTH_FORM_SENT,
    ("GET", "heat-on"): BOTH_FORM,
    ("POST", "heat-on"): BOTH_FORM_SENT,
    ("GET", "visit-add"): FORM_OF_ROW,
    ("POST", "visit-add"): FORM_OF_ROW_SENT,
    ("GET", "visits-import"): FORM_OF_ROW,
    ("POST", "visits-import"): FORM_OF_ROW_SENT,
    ("GET", "trade-add"): FORM_OF_ROW,
    ("POST", "trade-add"): FORM_OF_ROW_SENT,
    ("GET", "trade-link"): FORM_OF_ROW,
    ("POST", "trade-link"): FORM_OF_ROW,
    ("GET", "feeds"): FORM,
    ("POST", "feeds"): FORM_SENT,
    ("POST", "feed-revoke"): answers(302, 403, 403, 404, 302),
    ("GET", "booking-add"): FORM_OF_ROW,
    ("POST", "booking-add"): FORM_OF_ROW_SENT,
    ("GET", "sign"): BOTH_FORM,
    ("POST", "sign"): BOTH_FORM_SENT,
    ("GET", "handover"): PAGE,
    ("POST", "handover"): FORM_OF_ROW_SENT,
    ("GET", "owner-link"): FORM_OF_ROW,
    ("POST", "owner-link"): FORM_OF_ROW,
    ("GET", "notice-link"): FORM_OF_ROW,
    ("POST", "notice-link"): FORM_OF_ROW,
    ("GET", "certificate-pdf-page"): answers(404, 404, 404, 404, 302),  # it is not made yet
    # Links that open nothing say so to everybody alike.
    ("GET", "notice"): NO_LINK,
    ("POST", "notice"): NO_LINK,
    ("GET", "owner"): NO_LINK,
    ("GET", "owner-certificate"): NO_LINK,
    ("GET", "owner-calendar"): NO_LINK,
    ("GET", "trade"): NO_LINK,
    ("POST", "trade"): NO_LINK,
    ("GET", "trade-calendar"): NO_LINK,
    ("GET", "feed"): NO_LINK,
    ("GET", "certificate-by-link"): answers(404, 404, 404, 404, 404),  # a link that opens nothing
    ("GET", "label"): NO_LINK,
    ("GET", "label-sheet"): NO_LINK,
    ("GET", "labels"): FORM_OF_ROW,
    ("POST", "labels"): FORM_OF_ROW,
    ("POST", "api-labels"): answers(201, 403, 403, 404),
    ("GET", "verify"): NO_LINK,
    ("POST", "verify"): NO_LINK,
}

PAGES_OF_A_ROOM = (
    "room-plans",
    "room-as-laid",
    "room-photos",
    "room-survey",
    "room-circuit",
    "room-heat",
    "room-order",
    "room-order-file",
    "room-fasten",
    "room-sheet",
    "room-fault",
)
OF_A_PHOTO = (
    "photo",
    "photo-marks",
    "photo-image",
    "api-photo-image",
    "api-photo-scales",
)
OF_A_ROOM = (
    "api-room-photos",
    "api-heatable-area",
    "api-survey",
    "api-heat",
    "api-laying-searches",
    "api-laying-plans",
    "api-as-laid",
    "api-plan-table",
    "api-plan-svg",
    "api-plan-geojson",
    "api-plan-dxf",
    "api-clearance",
    "api-circuit",
    "api-take-off",
    "api-take-off-csv",
)


WEBHOOK_DEEDS = ("", "-secret", "-on", "-trial", "-replay")
OF_A_CERTIFICATE = (
    "api-certificate",
    "api-certificate-data",
    "api-certificate-pdf",
    "api-certificate-void",
    "api-certificate-links",
)
OF_A_FAULT = ("api-fault-found", "api-fault-void", "fault-found", "fault-void")


@pytest.fixture
def things(olive: Member) -> dict[str, dict[str, Any]]:
    """The arguments of each route that takes some: rows of Alder Floors."""
    alder = olive.contractor
    job = JobFactory(contractor=alder)
    room = RoomFactory(contractor=alder, job=job)
    token = DeviceToken.objects.create(
        contractor=alder, member=olive, name="phone", digest=uuid4().hex, issued_at=NOW
    )
    link = Link.objects.create(
        contractor=alder,
        job=job,
        purpose="owner",
        digest=uuid4().hex,
        made_at=NOW,
        expires_at=NOW + timedelta(days=1),
    )
    (decision,) = refresh([room], at=NOW)
    crew = CrewFactory(contractor=alder)
    visit = VisitFactory(contractor=alder, job=job, room=room)
    element = ElementFactory(contractor=alder, room=room)
    fault = FaultFoundFactory(contractor=alder, element=element, found_by=olive)
    meter = InstrumentFactory(contractor=alder)
    customer = CustomerFactory(contractor=alder)
    viewer = MemberFactory(contractor=alder, role="viewer")
    listed = JobImport.objects.create(
        contractor=alder, rows=[], bad=[], looked_at=NOW, looked_by=olive
    )
    material = MaterialFactory(contractor=alder)
    certificate = CertificateFactory(contractor=alder, job=job, issued_by=olive)
    notice = NoticeFactory(contractor=alder, visit=visit)
    reading = ReadingFactory(
        contractor=alder, visit=CheckFactory(contractor=alder, room=room, taken_by=olive)
    )
    layer = LayerFactory(contractor=alder, room=room)
    photo = RoomPhoto.objects.create(
        contractor=alder,
        room=room,
        jpeg=b"",
        digest="0" * 64,
        width_px=1,
        height_px=1,
        size_bytes=0,
        received_at=NOW,
        taken_by=olive,
    )
    # Failed, so that another one can be asked for.
    export = ExportFactory(contractor=alder, asked_by=olive, failed_at=NOW)
    trade = VisitingTradeFactory(contractor=alder, job=job)
    feed, _url = make_feed(by=olive, crew=crew, at=NOW)
    webhook = WebhookFactory(contractor=alder, made_by=olive)
    delivery = DeliveryFactory(contractor=alder, webhook=webhook)
    by_olive = {"contractor": alder, "booked_by": olive}
    return {
        "problem-type": {"slug": "stale"},
        "api-handover": {"job_id": job.pk},
        **{route: {"certificate_id": certificate.pk} for route in OF_A_CERTIFICATE},
        "certificate-by-link": {"secret": "unknown"},
        "first": {"secret": "unknown"},
        "device-end": {"token_id": token.pk},
        **{
            name: {"member_id": viewer.pk} for name in ("member-edit", "invite-again", "member-end")
        },
        "verify": {"secret": "unknown"},
        "label": {"secret": "unknown"},
        "label-sheet": {"secret": "unknown"},
        "labels": {"room_id": room.pk},
        "api-labels": {"room_id": room.pk},
        "notice": {"secret": "unknown"},
        "install": {"room_id": room.pk, "kind": "element"},
        **{
            name: {"room_id": room.pk}
            for name in ("layer-add", "proof-add", "heat-on", "fault-add")
        },
        **{
            name: {"job_id": job.pk}
            for name in ("visit-add", "booking-add", "sign", "handover", "owner-link", "job-close")
        },
        "notice-link": {"visit_id": notice.visit_id},
        "certificate-pdf-page": {"certificate_id": certificate.pk},
        "field-room": {"room_id": room.pk},
        "place-layer": {"room_id": room.pk},
        "measure": {"room_id": room.pk, "stage": "laid"},
        "measure-step": {"room_id": room.pk, "stage": "laid", "number": 1},
        "verdict": {"check_id": reading.visit_id},
        "thermometer": {"room_id": room.pk},
        "moves-read": {"room_id": room.pk},
        "what-if": {"room_id": room.pk},
        "warm-up": {"room_id": room.pk},
        "warm-up-resume": {"room_id": room.pk},
        "warm-up-calendar": {"room_id": room.pk},
        "field-warm-up": {"room_id": room.pk},
        "owner": {"secret": "unknown"},
        "owner-certificate": {"secret": "unknown"},
        "owner-calendar": {"secret": "unknown"},
        "trade": {"secret": "unknown"},
        "trade-calendar": {"secret": "unknown"},
        "feed": {"secret": "unknown"},
        "feed-revoke": {"link_id": feed.pk},
        "api-trade-link": {"trade_id": trade.pk},
        "trade-link": {"trade_id": trade.pk},
        **{name: {"job_id": job.pk} for name in ("visits-import", "trade-add")},
        "password-set": {"uidb64": "MQ", "token": "x-y"},
        "job": {"job_id": job.pk},
        "job-lanes": {"job_id": job.pk},
        "job-list": {"import_id": listed.pk},
        "job-edit": {"job_id": job.pk},
        "room": {"room_id": room.pk},
        "room-curing": {"room_id": room.pk},
        "room-add": {"job_id": job.pk},
        "room-edit": {"room_id": room.pk},
        **{name: {"room_id": room.pk} for name in PAGES_OF_A_ROOM},
        **{name: {"photo_id": photo.pk} for name in OF_A_PHOTO},
        "laying-search": {
            "search_id": LayingSearchFactory(contractor=alder, room=room, asked_by=olive).pk
        },
        "day-sheets": {"day": "2026-12-01"},
        "checks": {"room_id": room.pk},
        "customer": {"customer_id": customer.pk},
        **{
            route: {"customer_id": customer.pk}
            for route in ("customer-edit", "customer-erase", "api-erasure")
        },
        **{route: {"export_id": export.pk} for route in ("api-export", "api-export-file")},
        **{
            route: {"material_id": material.pk}
            for route in ("material", "material-edit", "material-retire")
        },
        "material-add": {"kind": "mortar"},
        **{route: {"instrument_id": meter.pk} for route in ("meter", "meter-edit", "meter-retire")},
        **{route: {"crew_id": crew.pk} for route in ("crew", "crew-edit", "crew-retire")},
        "absence-end": {
            "absence_id": CrewAbsenceFactory(
                contractor=alder, crew=CrewFactory(contractor=alder)
            ).pk
        },
        **{f"api-webhook{deed}": {"webhook_id": webhook.pk} for deed in WEBHOOK_DEEDS},
        "webhook": {"webhook_id": webhook.pk},
        **{
            route: {"delivery_id": delivery.pk}
            for route in ("api-delivery", "api-delivery-replay", "delivery")
        },
        "api-instrument": {"instrument_id": meter.pk},
        "api-instrument-ranges": {"instrument_id": meter.pk},
        "api-check": {"check_id": reading.visit_id},
        "api-reading-sets": {"room_id": room.pk},
        "api-chain": {"room_id": room.pk},
        "api-suitable-ranges": {"element_id": element.pk},
        "api-trend": {"element_id": element.pk},
        "api-monitor-events": {"element_id": element.pk},
        "api-fault": {"element_id": element.pk},
        "api-joints": {"element_id": element.pk},
        **{route: {"fault_id": fault.pk} for route in OF_A_FAULT},
        "api-token": {"token_id": token.pk},
        "api-customer": {"customer_id": customer.pk},
        "api-job": {"job_id": job.pk},
        "api-room": {"room_id": room.pk},
        **{route: {"room_id": room.pk} for route in OF_A_ROOM},
        **{
            route: {
                "search_id": LayingSearchFactory(contractor=alder, room=room, asked_by=olive).pk
            }
            for route in ("api-laying-search", "api-laying-search-stop")
        },
        "api-material": {"material_id": material.pk},
        "api-element": {"row_id": element.pk},
        "api-floor-sensor": {"row_id": FloorSensorFactory(contractor=alder, room=room).pk},
        "api-control": {"row_id": ControlFactory(contractor=alder, room=room).pk},
        "api-link": {"link_id": link.pk},
        "api-visit": {"visit_id": visit.pk},
        "api-notice-link": {"notice_id": notice.pk},
        "api-public-notice": {"secret": "guessed"},
        "api-exposure": {"room_id": room.pk},
        "api-layer": {"layer_id": layer.pk},
        "api-promise": {
            "promise_id": PromiseFactory(contractor=alder, room=room, made_by=olive).pk
        },
        "api-energize": {"room_id": room.pk},
        "api-cure-chart": {"room_id": room.pk},
        "api-warm-up": {"room_id": room.pk},
        "api-warm-up-calendar": {"room_id": room.pk},
        "api-warm-up-resume": {"room_id": room.pk},
        "api-what-if": {"room_id": room.pk},
        "api-decisions": {"room_id": room.pk},
        "api-decision": {"decision_id": decision.pk},
        "api-derivation": {"decision_id": decision.pk},
        "api-crew": {"crew_id": crew.pk},
        "api-crew-absences": {"crew_id": crew.pk},
        "api-absence": {
            "absence_id": CrewAbsenceFactory(
                contractor=alder, crew=CrewFactory(contractor=alder)
            ).pk
        },
        "api-tool": {"tool_id": ToolFactory(contractor=alder).pk},
        **{
            route: {"plan_id": PlanFactory(contractor=alder, asked_by=olive).pk}
            for route in (
                "api-plan",
                "api-plan-picture",
                "api-plan-accept",
                "api-plan-cancel",
                "proposal",
            )
        },
        **{
            route: {"booking_id": booking.pk}
            for route, booking in (
                ("api-booking", BookingFactory(crew=crew, job=job, **by_olive)),
                ("booking", BookingFactory(crew=crew, job=job, half="pm", **by_olive)),
            )
        },
    }


@pytest.mark.parametrize(("method", "route"), ACCESS)
def test_access(
    method: str,
    route: str,
    things: dict[str, dict[str, Any]],
    api: Callable[[Member | None], Any],
    request: pytest.FixtureRequest,
) -> None:
    members = {who: None if who == "nobody" else request.getfixturevalue(who) for who in WHO}
    address = reverse(route, kwargs=things.get(route))
    body = b"{}" if method in ("POST", "PATCH", "PUT") else b""
    given = {}
    for who, member in members.items():
        with transaction.atomic():
            given[who] = api(member).generic(
                method, address, data=body, content_type="application/json"
            )
            transaction.set_rollback(True)  # the next one finds all as it was
    statuses = {who: response.status_code for who, response in given.items()}
    assert statuses == ACCESS[method, route], [response.content for response in given.values()]


def routes(patterns: list[Any]) -> Iterator[URLPattern]:
    for pattern in patterns:
        if isinstance(pattern, URLResolver):
            yield from routes(pattern.url_patterns)
        else:
            yield pattern


def methods(pattern: URLPattern) -> set[str]:
    view = getattr(pattern.callback, "view_class", None) or getattr(pattern.callback, "cls", None)
    names = view.http_method_names if view else getattr(pattern.callback, "methods", ["get"])
    offered = {name.upper() for name in names if view is None or hasattr(view, name)}
    return offered - {"OPTIONS", "HEAD"}


def test_every_route_is_in_the_matrix() -> None:
    known = {
        (method, pattern.name)
        for pattern in routes(get_resolver().url_patterns)
        for method in methods(pattern)
    }
    assert known == set(ACCESS)


def test_every_post_that_creates_takes_an_idempotency_key() -> None:
    # A log-in makes a new secret each time; an acknowledgement has no member to remember it by.
    without = {"api-token-issue", "api-public-notice"}
    for pattern in routes(get_resolver().url_patterns):
        view = getattr(pattern.callback, "cls", None)
        if view is not None and hasattr(view, "post") and pattern.name not in without:
            assert getattr(view.post, "takes_key", False), pattern.name
