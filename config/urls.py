"""Addresses: the API under /api/v1/, pages and private links beside it."""

from django.urls import include, path
from drf_spectacular.views import SpectacularAPIView, SpectacularSwaggerSplitView

from config import offline
from config.pages import problem_type

handler403 = "config.problems.permission_denied"
handler404 = "config.problems.page_not_found"
handler500 = "config.problems.server_error"

urlpatterns = [
    path("api/v1/schema/", SpectacularAPIView.as_view(), name="api-schema"),
    path(
        "api/v1/docs/", SpectacularSwaggerSplitView.as_view(url_name="api-schema"), name="api-docs"
    ),
    path("api/v1/", include("jobs.urls_api")),
    path("api/v1/", include("readings.urls_api")),
    path("api/v1/", include("scheduling.urls_api")),
    path("service-worker.js", offline.service_worker, name="service-worker"),
    path("manifest.webmanifest", offline.manifest, name="manifest"),
    path("offline/", offline.offline, name="offline"),
    path("outbox/", offline.outbox, name="outbox"),
    path("problems/<slug:slug>/", problem_type, name="problem-type"),
    path("", include("jobs.urls")),
    path("", include("readings.urls")),
    path("", include("scheduling.urls")),
]
