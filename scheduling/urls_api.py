"""API addresses of scheduling."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
