"""The real addresses, and a no-op beside them to measure against."""

from django.urls import path
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from config.urls import handler403, handler404, handler500
from config.urls import urlpatterns as real

__all__ = ["handler403", "handler404", "handler500"]


class Nothing(APIView):
    """Authenticate, and answer an empty object."""

    def get(self, request: Request) -> Response:
        return Response({})


urlpatterns = [*real, path("api/v1/nothing/", Nothing.as_view(), name="api-nothing")]
