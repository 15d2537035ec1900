"""Photographs of a floor, and the points that set one against the outline."""

from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import renderers, serializers
from rest_framework.parsers import MultiPartParser
from rest_framework.response import Response
from rest_framework.views import APIView

from config.fields import Input, Instant, Output
from config.idempotency import idempotent
from config.paging import ListView
from config.parsers import StrictJSONParser
from config.tenancy import may_write, visible
from jobs.actions import photos
from jobs.api.laying import ScalePointInput
from jobs.api.shapes import PointField
from jobs.asbuilt import scale_pairs
from jobs.models import PhotoScale, Room, RoomPhoto
from jobs.requests import MemberRequest, jpeg_answer


class PhotoFile(Input):
    image = serializers.FileField(help_text="JPEG, PNG or WebP up to 20 MB.")


class RoomPhotoOutput(Output):
    id = serializers.UUIDField()
    room = serializers.UUIDField(source="room_id")
    digest = serializers.CharField(help_text="SHA-256 of the picture that is kept.")
    width_px = serializers.IntegerField()
    height_px = serializers.IntegerField()
    size_bytes = serializers.IntegerField()
    received_at = Instant()
    taken_by = serializers.UUIDField(source="taken_by_id")
    image = serializers.SerializerMethodField()

    def get_image(self, row: RoomPhoto) -> str:
        return reverse("api-photo-image", kwargs={"photo_id": row.pk})


class ScaleInput(Input):
    points = serializers.ListField(child=ScalePointInput(), min_length=4, max_length=100)


class ScalePointOutput(Output):
    pixel = PointField()
    floor_mm = PointField()


class ScaleOutput(Output):
    id = serializers.UUIDField()
    photo = serializers.UUIDField(source="photo_id")
    points = ScalePointOutput(many=True)
    tolerance_mm = serializers.FloatField()
    because = serializers.CharField()
    set_at = Instant()
    set_by = serializers.UUIDField(source="set_by_id")


class AsJpeg(renderers.JSONRenderer):
    """For problem documents; the picture itself is sent as it is kept."""

    media_type = "image/jpeg"
    format = "jpeg"


class RoomPhotos(ListView):
    parser_classes = (MultiPartParser, StrictJSONParser)

    @extend_schema(responses=RoomPhotoOutput(many=True))
    def get(self, request: MemberRequest, room_id: str) -> Response:
        room = visible(Room.objects.all(), request.user, pk=room_id)
        rows = RoomPhoto.objects.visible_to(request.user).filter(room=room).defer("jpeg")
        return self.listing(request, rows, RoomPhotoOutput)

    @extend_schema(request={"multipart/form-data": PhotoFile}, responses={201: RoomPhotoOutput})
    @idempotent
    def post(self, request: MemberRequest, room_id: str) -> Response:
        """Keep a photo without its place and camera; the same picture again is the same row."""
        may_write(RoomPhoto, request.user)
        room = visible(Room.objects.all(), request.user, pk=room_id)
        sent = PhotoFile(data=request.data)
        sent.is_valid(raise_exception=True)
        data = sent.validated_data["image"].read()
        row = photos.keep_photo(by=request.user, room=room, data=data, at=timezone.now())
        return Response(RoomPhotoOutput(row).data, status=201)


class PhotoImage(APIView):
    renderer_classes = (AsJpeg,)

    @extend_schema(responses={(200, "image/jpeg"): OpenApiTypes.BINARY})
    def get(self, request: MemberRequest, photo_id: str) -> HttpResponse:
        return jpeg_answer(visible(RoomPhoto.objects.all(), request.user, pk=photo_id))


class PhotoScales(ListView):
    @extend_schema(responses=ScaleOutput(many=True))
    def get(self, request: MemberRequest, photo_id: str) -> Response:
        photo = visible(RoomPhoto.objects.defer("jpeg"), request.user, pk=photo_id)
        rows = PhotoScale.objects.visible_to(request.user).filter(photo=photo)
        return self.listing(request, rows, ScaleOutput)

    @extend_schema(request=ScaleInput, responses={201: ScaleOutput})
    @idempotent
    def post(self, request: MemberRequest, photo_id: str) -> Response:
        """Say where points of the photo lie on the floor; the newest set counts."""
        may_write(PhotoScale, request.user)
        photo = visible(RoomPhoto.objects.defer("jpeg"), request.user, pk=photo_id)
        sent = ScaleInput(data=request.data)
        sent.is_valid(raise_exception=True)
        row = photos.set_scale(
            by=request.user,
            photo=photo,
            points=scale_pairs(sent.validated_data["points"]),
            at=timezone.now(),
        )
        return Response(ScaleOutput(row).data, status=201)
