"""Addresses of pages about readings."""

from django.urls import path

from readings.pages import checks, fault, faults_found, measure, meters

urlpatterns = [
    path("meters/", meters.meters, name="meters"),
    path("meters/new/", meters.meter_add, name="meter-add"),
    path("meters/<uuid:instrument_id>/", meters.meter, name="meter"),
    path("meters/<uuid:instrument_id>/change/", meters.meter_edit, name="meter-edit"),
    path("meters/<uuid:instrument_id>/retire/", meters.meter_retire, name="meter-retire"),
    path("rooms/<uuid:room_id>/readings/", checks.check_list, name="checks"),
    path("rooms/<uuid:room_id>/fault/", fault.fault_page, name="room-fault"),
    path("rooms/<uuid:room_id>/fault/found/", faults_found.fault_add, name="fault-add"),
    path("faults/<uuid:fault_id>/", faults_found.fault_found, name="fault-found"),
    path("faults/<uuid:fault_id>/void/", faults_found.fault_void, name="fault-void"),
    path("field/rooms/<uuid:room_id>/thermometer/", measure.thermometer, name="thermometer"),
    path("field/rooms/<uuid:room_id>/measure/<slug:stage>/", measure.before, name="measure"),
    path(
        "field/rooms/<uuid:room_id>/measure/<slug:stage>/<int:number>/",
        measure.step_page,
        name="measure-step",
    ),
    path("field/checks/<uuid:check_id>/", measure.verdict_page, name="verdict"),
]
