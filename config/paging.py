"""Lists a page at a time, newest first, by an opaque cursor."""

from typing import Any
from uuid import UUID

from rest_framework import serializers
from rest_framework.exceptions import NotFound
from rest_framework.pagination import Cursor, CursorPagination
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from config.errors import DomainError
from config.tenancy import M, TenantQuerySet


class BadCursor(DomainError):
    slug = "not-acceptable"


class NewestFirst(CursorPagination):
    """Ids are UUIDv7: their order is the order in which rows came."""

    ordering = "-id"
    page_size = 50
    page_size_query_param = "limit"
    max_page_size = 200
    offset_cutoff = 10_000

    def decode_cursor(self, request: Request) -> Cursor | None:
        try:
            cursor = super().decode_cursor(request)
            if cursor is not None:  # ids never tie, so every cursor has a position
                UUID(str(cursor.position))
        except (NotFound, ValueError) as error:
            raise BadCursor("Use the address under `next` as it is.", pointer="#/cursor") from error
        return cursor


class ListView(APIView):
    """Base of views that answer a list."""

    pagination_class = NewestFirst

    def listing(
        self,
        request: Request,
        rows: TenantQuerySet[M],
        output: type[serializers.BaseSerializer[Any]],
        **context: object,
    ) -> Response:
        """One page of rows that `request` may see, as `output` shows them."""
        paginator = NewestFirst()
        page = paginator.paginate_queryset(rows, request, view=self)
        return paginator.get_paginated_response(output(page, many=True, context=context).data)


def chosen(request: Request, filters: type[serializers.Serializer[Any]]) -> dict[str, Any]:
    """The query parameters that filter a list, validated; an unknown one is refused."""
    known = {"cursor", "limit"}
    sent = filters(data={k: v for k, v in request.query_params.items() if k not in known})
    sent.is_valid(raise_exception=True)
    return dict(sent.validated_data)
