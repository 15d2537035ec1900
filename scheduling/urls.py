"""Addresses of pages about when, and of those that bring several apps together."""

from django.urls import path

from scheduling.pages import board, certificates, job, plan

urlpatterns = [
    path("", board.home, name="home"),
    path("jobs/", board.board, name="jobs"),
    path("jobs/<uuid:job_id>/", job.job_page, name="job"),
    path("rooms/<uuid:room_id>/", job.room_page, name="room"),
    path(
        "certificate/<str:secret>/",
        certificates.certificate_by_link,
        name="certificate-by-link",
    ),
    path("plan/", plan.plan_page, name="plan"),
]
