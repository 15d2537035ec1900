"""API addresses of scheduling."""

from django.urls import path

from scheduling.api import bookings, crews

urlpatterns = [
    path("crews/", crews.CrewList.as_view(), name="api-crews"),
    path("crews/<uuid:crew_id>/", crews.CrewDetail.as_view(), name="api-crew"),
    path("crews/<uuid:crew_id>/absences/", crews.AbsenceList.as_view(), name="api-crew-absences"),
    path("absences/<uuid:absence_id>/", crews.AbsenceDetail.as_view(), name="api-absence"),
    path("tools/", crews.ToolList.as_view(), name="api-tools"),
    path("tools/<uuid:tool_id>/", crews.ToolDetail.as_view(), name="api-tool"),
    path("bookings/", bookings.BookingList.as_view(), name="api-bookings"),
    path("bookings/<uuid:booking_id>/", bookings.BookingDetail.as_view(), name="api-booking"),
]
