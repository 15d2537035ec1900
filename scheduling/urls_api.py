"""API addresses of scheduling."""

from django.urls import path

from scheduling.api import (
    bookings,
    certificates,
    crews,
    energize,
    evidence,
    layers,
    notices,
    visits,
    warmup,
)

urlpatterns = [
    path("layers/", layers.LayerList.as_view(), name="api-layers"),
    path("layers/<uuid:layer_id>/", layers.LayerDetail.as_view(), name="api-layer"),
    path("evidence/", evidence.EvidenceList.as_view(), name="api-evidence"),
    path("promises/", evidence.PromiseList.as_view(), name="api-promises"),
    path("promises/<uuid:promise_id>/", evidence.PromiseDetail.as_view(), name="api-promise"),
    path("rooms/<uuid:room_id>/energize/", energize.RoomEnergize.as_view(), name="api-energize"),
    path(
        "rooms/<uuid:room_id>/cure-chart.svg",
        energize.CureChartSvg.as_view(),
        name="api-cure-chart",
    ),
    path("rooms/<uuid:room_id>/warm-up/", warmup.RoomWarmUp.as_view(), name="api-warm-up"),
    path("rooms/<uuid:room_id>/what-if/", energize.RoomWhatIf.as_view(), name="api-what-if"),
    path("rooms/<uuid:room_id>/decisions/", energize.RoomDecisions.as_view(), name="api-decisions"),
    path("decisions/<uuid:decision_id>/", energize.DecisionDetail.as_view(), name="api-decision"),
    path(
        "decisions/<uuid:decision_id>/derivation/",
        energize.DecisionDerivation.as_view(),
        name="api-derivation",
    ),
    path("jobs/<uuid:job_id>/handover/", certificates.Handover.as_view(), name="api-handover"),
    path("sign-offs/", certificates.SignOffList.as_view(), name="api-sign-offs"),
    path("certificates/", certificates.CertificateList.as_view(), name="api-certificates"),
    path(
        "certificates/<uuid:certificate_id>/",
        certificates.CertificateDetail.as_view(),
        name="api-certificate",
    ),
    path(
        "certificates/<uuid:certificate_id>/data/",
        certificates.CertificateData.as_view(),
        name="api-certificate-data",
    ),
    path(
        "certificates/<uuid:certificate_id>/pdf/",
        certificates.CertificatePdf.as_view(),
        name="api-certificate-pdf",
    ),
    path(
        "certificates/<uuid:certificate_id>/void/",
        certificates.CertificateVoid.as_view(),
        name="api-certificate-void",
    ),
    path(
        "certificates/<uuid:certificate_id>/links/",
        certificates.CertificateLinks.as_view(),
        name="api-certificate-links",
    ),
    path("visits/", visits.VisitList.as_view(), name="api-visits"),
    path("visits/<uuid:visit_id>/", visits.VisitDetail.as_view(), name="api-visit"),
    path("notices/", notices.NoticeList.as_view(), name="api-notices"),
    path("notices/<uuid:notice_id>/link/", notices.NoticeLink.as_view(), name="api-notice-link"),
    path("public/notices/<str:secret>/", notices.PublicNotice.as_view(), name="api-public-notice"),
    path("rooms/<uuid:room_id>/exposure/", visits.RoomExposure.as_view(), name="api-exposure"),
    path("crews/", crews.CrewList.as_view(), name="api-crews"),
    path("crews/<uuid:crew_id>/", crews.CrewDetail.as_view(), name="api-crew"),
    path("crews/<uuid:crew_id>/absences/", crews.AbsenceList.as_view(), name="api-crew-absences"),
    path("absences/<uuid:absence_id>/", crews.AbsenceDetail.as_view(), name="api-absence"),
    path("tools/", crews.ToolList.as_view(), name="api-tools"),
    path("tools/<uuid:tool_id>/", crews.ToolDetail.as_view(), name="api-tool"),
    path("bookings/", bookings.BookingList.as_view(), name="api-bookings"),
    path("bookings/<uuid:booking_id>/", bookings.BookingDetail.as_view(), name="api-booking"),
]
