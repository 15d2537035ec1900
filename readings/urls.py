"""Addresses of pages about readings."""

from django.urls import path

from readings.pages import checks

urlpatterns = [
    path("rooms/<uuid:room_id>/readings/", checks.check_list, name="checks"),
]
