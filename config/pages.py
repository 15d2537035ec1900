"""The manners of every page: who may knock, in which language, by which methods."""

from collections.abc import Callable
from contextlib import suppress
from datetime import datetime
from functools import wraps
from typing import Any, cast
from urllib.parse import urlencode
from uuid import UUID

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.http.response import HttpResponseBase
from django.middleware.gzip import GZipMiddleware
from django.shortcuts import render, resolve_url
from django.template.response import TemplateResponse
from django.utils import timezone, translation
from django.utils.cache import patch_cache_control
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods

from config.problems import PROBLEMS
from config.tenancy import M, TenantQuerySet

PAGE = 50
View = Callable[..., HttpResponseBase]
LANGUAGES = dict(settings.LANGUAGES)
GZIP = GZipMiddleware(lambda request: HttpResponse())


class TimedRequest(HttpRequest):
    """A request that knows when it came: pages read the clock once."""

    now: datetime


def page(*methods: str) -> Callable[[View], View]:
    """A page for members, in their language; others are asked to log in."""

    def made(view: View) -> View:
        @wraps(view)
        def answer(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            request.now = timezone.now()  # type: ignore[attr-defined]
            if not request.user.is_authenticated:
                asked = urlencode({"next": request.get_full_path()})
                return HttpResponseRedirect(f"{resolve_url(settings.LOGIN_URL)}?{asked}")
            with translation.override(request.user.language):
                response = view(request, *args, **kwargs)
                if isinstance(response, TemplateResponse):
                    response.render()  # Django's own views leave that for later
            response.headers["Content-Language"] = request.user.language
            patch_cache_control(response, private=True, no_cache=True)
            return response

        return _with_methods(answer, methods)

    return made


def public_page(*methods: str) -> Callable[[View], View]:
    """A page that anybody may open, in the language that the address asks for, if any."""

    def made(view: View) -> View:
        @wraps(view)
        def answer(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            request.now = timezone.now()  # type: ignore[attr-defined]
            asked = request.GET.get("lang", "")
            language = asked if asked in LANGUAGES else translation.get_language()
            with translation.override(language):
                return view(request, *args, **kwargs)

        return _with_methods(answer, methods)

    return made


def private_page(*methods: str) -> Callable[[View], View]:
    """A page behind a private link: kept by nobody, found by no search.

    Its address is told to no other site by the policy for all pages (`same-origin`; with
    `no-referrer` browsers send the origin `null`, and no form would be taken).
    """

    def made(view: View) -> View:
        @wraps(view)
        def answer(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            response = view(request, *args, **kwargs)
            response.headers["Cache-Control"] = "private, no-store"
            response.headers["X-Robots-Tag"] = "noindex"
            return response

        return public_page(*methods)(answer)

    return made


def _with_methods(view: View, methods: tuple[str, ...]) -> View:
    allowed = [*methods, "HEAD"] if "GET" in methods else list(methods)
    guarded = require_http_methods(allowed)(_compressed(view))
    guarded.methods = [name.lower() for name in methods]  # type: ignore[attr-defined]
    return guarded


def _compressed(view: View) -> View:
    """A third of the bytes on a bad signal. Only pages: their secrets are masked anew in each
    answer, and the middleware adds a length by chance, so that sizes tell nothing."""

    @wraps(view)
    def answer(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        response = view(request, *args, **kwargs)
        if not response.get("Content-Type", "").startswith("text/html"):
            return response
        if isinstance(response, TemplateResponse):
            response.render()
        return GZIP.process_response(request, cast(HttpResponse, response))

    return answer


def newest(rows: TenantQuerySet[M], request: HttpRequest) -> tuple[list[M], str]:
    """A page of rows, newest first, and the id that the next page starts after, if there is one.

    Ids are UUIDv7: their order is the order in which rows came, and the index serves it.
    """
    with suppress(KeyError, ValueError):  # without a start, or with none of ours: the first page
        rows = rows.filter(pk__lt=UUID(request.GET["after"]))
    found = list(rows.order_by("-pk")[: PAGE + 1])
    return found[:PAGE], str(found[PAGE - 1].pk) if len(found) > PAGE else ""


# What somebody can do about a refusal, by the kind that its status tells.
MEANINGS = {
    400: "What came cannot be read as JSON. Nothing was changed. Mend the body and send it again.",
    401: "Show a device token as “Authorization: Bearer …”, or log in. Nothing was changed.",
    403: "You see this, but your role does not change it. Ask somebody of the office.",
    404: "It may never have been there, belong to somebody else, or have run out.",
    405: "Look up which methods this address takes.",
    406: "Ask for application/json.",
    409: "It meets something that is there already. Read that first, then decide.",
    412: "Read it again, look at what changed, and send your change with the new ETag.",
    413: "Send less at once: split a batch, or make the file smaller.",
    415: "Send application/json.",
    422: "It was understood, but cannot be taken as it is. What to mend stands beside each field.",
    428: "Send If-Match with the ETag of your last read, so that nobody's change is overwritten.",
    429: "Wait as long as Retry-After says, then try again.",
    500: "We have logged it. Nothing was changed; send the same again.",
    503: "Something that we need does not answer. Nothing was changed; send the same again.",
}


@public_page("GET")
def problem_type(request: HttpRequest, slug: str) -> HttpResponse:
    if slug not in PROBLEMS:
        raise Http404
    problem = PROBLEMS[slug]
    shown = {"slug": slug, "problem": problem, "meaning": gettext(MEANINGS[problem.status])}
    return render(request, "problem_type.html", shown)
