"""Addresses of pages about readings."""

from django.urls import path

from readings.pages import checks, fault, measure

urlpatterns = [
    path("rooms/<uuid:room_id>/readings/", checks.check_list, name="checks"),
    path("rooms/<uuid:room_id>/fault/", fault.fault_page, name="room-fault"),
    path("field/rooms/<uuid:room_id>/thermometer/", measure.thermometer, name="thermometer"),
    path("field/rooms/<uuid:room_id>/measure/<slug:stage>/", measure.before, name="measure"),
    path(
        "field/rooms/<uuid:room_id>/measure/<slug:stage>/<int:number>/",
        measure.step_page,
        name="measure-step",
    ),
    path("field/checks/<uuid:check_id>/", measure.verdict_page, name="verdict"),
]
