"""API addresses of readings."""

from django.urls import path

from readings.api import checks, curves, elements, faults, instruments, rooms, temperatures

urlpatterns = [
    path("instruments/", instruments.InstrumentList.as_view(), name="api-instruments"),
    path(
        "instruments/<uuid:instrument_id>/",
        instruments.InstrumentDetail.as_view(),
        name="api-instrument",
    ),
    path(
        "instruments/<uuid:instrument_id>/ranges/",
        instruments.RangeList.as_view(),
        name="api-instrument-ranges",
    ),
    path("checks/", checks.CheckList.as_view(), name="api-checks"),
    path("checks/batch/", checks.CheckBatch.as_view(), name="api-check-batch"),
    path("checks/<uuid:check_id>/", checks.CheckDetail.as_view(), name="api-check"),
    path(
        "site-temperatures/", temperatures.TemperatureList.as_view(), name="api-site-temperatures"
    ),
    path(
        "site-temperatures/batch/",
        temperatures.TemperatureBatch.as_view(),
        name="api-site-temperature-batch",
    ),
    path(
        "site-temperatures/log/",
        temperatures.TemperatureLog.as_view(),
        name="api-site-temperature-log",
    ),
    path("faults/", faults.FaultList.as_view(), name="api-faults"),
    path("faults/<uuid:fault_id>/", faults.FaultDetail.as_view(), name="api-fault-found"),
    path("faults/<uuid:fault_id>/void/", faults.FaultVoiding.as_view(), name="api-fault-void"),
    path("sensor-curves/", curves.CurveList.as_view(), name="api-sensor-curves"),
    path("rooms/<uuid:room_id>/reading-sets/", rooms.RoomSets.as_view(), name="api-reading-sets"),
    path("rooms/<uuid:room_id>/chain/", rooms.RoomChain.as_view(), name="api-chain"),
    path(
        "elements/<uuid:element_id>/suitable-ranges/",
        instruments.SuitableRanges.as_view(),
        name="api-suitable-ranges",
    ),
    path("elements/<uuid:element_id>/trend/", elements.ElementTrend.as_view(), name="api-trend"),
    path(
        "elements/<uuid:element_id>/monitor-events/",
        elements.ElementMonitor.as_view(),
        name="api-monitor-events",
    ),
    path("elements/<uuid:element_id>/fault/", elements.ElementFault.as_view(), name="api-fault"),
    path("elements/<uuid:element_id>/joints/", elements.ElementJoints.as_view(), name="api-joints"),
]
