"""`/health/`: whether this process reaches its database and its broker, told to anybody.

Answered before hosts, TLS and sessions are looked at, since probes come by address. Only the
database decides the status: without the broker every request is still served, what was asked of
the workers waits as a row, and the answer says `degraded`.
"""

from collections.abc import Callable

import psycopg
import redis
from django.db import connection
from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed, JsonResponse

from config import services

PATH = "/health/"
PATIENCE_SECONDS = 2


class HealthMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.path != PATH:
            return self.get_response(request)
        if request.method not in ("GET", "HEAD"):
            return HttpResponseNotAllowed(["GET", "HEAD"])
        return health()


def health() -> JsonResponse:
    database, broker = database_answers(), broker_answers()
    status = ("up" if broker else "degraded") if database else "down"
    answer = {
        "status": status,
        "database": "up" if database else "down",
        "broker": "up" if broker else "down",
    }
    return JsonResponse(
        answer, status=200 if database else 503, headers={"Cache-Control": "no-store"}
    )


def database_answers() -> bool:
    """Over a connection of its own: the request's may hang without end."""
    bounds = {
        "connect_timeout": PATIENCE_SECONDS,
        "options": f"-c statement_timeout={PATIENCE_SECONDS * 1000}",
    }
    try:
        with psycopg.connect(**{**connection.get_connection_params(), **bounds}) as fresh:
            fresh.execute("SELECT 1")
    except psycopg.OperationalError:
        return False
    return True


def broker_answers() -> bool:
    client = redis.Redis.from_url(
        services.redis_url(),
        socket_connect_timeout=PATIENCE_SECONDS,
        socket_timeout=PATIENCE_SECONDS,
    )
    try:
        return bool(client.ping())
    except redis.RedisError:
        return False
    finally:
        client.close()
