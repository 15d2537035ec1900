"""Addresses of pages about when, and of those that bring several apps together."""

from django.urls import path

from scheduling.pages import (
    board,
    certificates,
    field,
    job,
    lanes,
    office,
    owner,
    plan,
    proposal,
    public,
    sample,
)

urlpatterns = [
    path("", board.home, name="home"),
    path("jobs/", board.board, name="jobs"),
    path("sample/", sample.sample_add, name="sample-add"),
    path("sample/end/", sample.sample_end, name="sample-end"),
    path("jobs/<uuid:job_id>/", job.job_page, name="job"),
    path("jobs/<uuid:job_id>/lanes/", lanes.job_lanes, name="job-lanes"),
    path("rooms/<uuid:room_id>/", job.room_page, name="room"),
    path(
        "certificate/<str:secret>/",
        certificates.certificate_by_link,
        name="certificate-by-link",
    ),
    path("verify/<str:secret>/", certificates.verify, name="verify"),
    path("notice/<str:secret>/", public.notice_page, name="notice"),
    path("owner/<str:secret>/", owner.owner_page, name="owner"),
    path("owner/<str:secret>/certificate/", owner.owner_certificate, name="owner-certificate"),
    path("owner/<str:secret>/calendar/", owner.owner_calendar, name="owner-calendar"),
    path("jobs/<uuid:job_id>/visits/new/", office.visit_add, name="visit-add"),
    path("jobs/<uuid:job_id>/bookings/new/", office.booking_add, name="booking-add"),
    path("jobs/<uuid:job_id>/handover/", office.handover, name="handover"),
    path("jobs/<uuid:job_id>/sign/", office.sign, name="sign"),
    path("jobs/<uuid:job_id>/owner-link/", office.owner_link, name="owner-link"),
    path("visits/<uuid:visit_id>/link/", office.notice_link, name="notice-link"),
    path("rooms/<uuid:room_id>/layers/new/", office.layer_add, name="layer-add"),
    path("rooms/<uuid:room_id>/proof/", office.proof_add, name="proof-add"),
    path("rooms/<uuid:room_id>/moves/read/", job.read_moves, name="moves-read"),
    path("rooms/<uuid:room_id>/heat/", office.heat_on, name="heat-on"),
    path(
        "certificates/<uuid:certificate_id>/pdf/",
        office.certificate_pdf,
        name="certificate-pdf-page",
    ),
    path("today/", field.today, name="today"),
    path("field/rooms/<uuid:room_id>/", field.field_room, name="field-room"),
    path("field/rooms/<uuid:room_id>/place/", field.place, name="place-layer"),
    path("plan/ask/", proposal.ask, name="plan-ask"),
    path("plan/<uuid:plan_id>/", proposal.proposal, name="proposal"),
    path("plan/", plan.plan_page, name="plan"),
]
