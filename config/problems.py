"""Every refusal as a problem document (RFC 9457): one table, one handler."""

import math
from collections.abc import Iterator
from http import HTTPStatus
from typing import Any, NamedTuple

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.utils import translation
from django.utils.translation import gettext
from rest_framework import exceptions
from rest_framework.response import Response
from rest_framework.views import set_rollback

from config.errors import DomainError

MEDIA_TYPE = "application/problem+json"


class Problem(NamedTuple):
    status: int
    title: str


PROBLEMS = {
    "not-acceptable": Problem(422, "Something in what was sent cannot be taken"),
    "not-readable": Problem(400, "The body cannot be read"),
    "body-too-large": Problem(413, "The body is too large"),
    "unsupported-media-type": Problem(415, "This kind of content is not taken here"),
    "not-logged-in": Problem(401, "Log in first, or show a device token"),
    "not-yours": Problem(403, "You may look at this, but not change it"),
    "not-found": Problem(404, "There is nothing here for you"),
    "method-not-allowed": Problem(405, "This address does not take that method"),
    "no-such-answer": Problem(406, "The answer cannot be given in that format"),
    "too-many-tries": Problem(429, "Too many tries; wait a while"),
    "stale": Problem(412, "Somebody changed this since you read it"),
    "precondition-missing": Problem(428, "Say which version you are changing"),
    "key-reused": Problem(422, "This Idempotency-Key was used for another request"),
    "unknown-id": Problem(422, "An id in the body names nothing that you have"),
    "address-taken": Problem(409, "Somebody logs in with this address already"),
    "last-of-office": Problem(409, "Somebody of the office has to stay"),
    "set-up-already": Problem(409, "A company is set up already"),
    "sample-in-use": Problem(409, "A sample job is in use"),
    "list-not-readable": Problem(422, "The list cannot be read"),
    "import-under-way": Problem(409, "The list is being taken in already"),
    "already-there": Problem(409, "This is there already"),
    "material-contradicts": Problem(422, "The figures of this material do not fit together"),
    "outline-not-usable": Problem(422, "These points do not bound one floor"),
    "margin-not-usable": Problem(422, "A margin is not a distance"),
    "keep-out-outside": Problem(422, "A keep-out lies outside its room"),
    "not-on-wall": Problem(422, "Something that belongs on a wall lies off it"),
    "material-not-fit": Problem(422, "This material does not go there"),
    "voltage-not-fit": Problem(422, "This is made for another voltage"),
    "heat-held": Problem(409, "Something stands in the way of heat"),
    "warm-up-not-begun": Problem(409, "Heat is not on yet"),
    "warm-up-stopped": Problem(409, "The warm-up was stopped"),
    "warm-up-out-of-order": Problem(422, "The steps of a warm-up come one after the other"),
    "test-too-long": Problem(422, "A test before the date is brief"),
    "layer-too-soon": Problem(422, "This layer comes before something that has to come first"),
    "evidence-unclear": Problem(422, "It is not clear what was proven"),
    "half-day-taken": Problem(409, "The crew is already booked for that half-day"),
    "crew-is-away": Problem(422, "The crew does not work in that half-day"),
    "move-refused": Problem(409, "Something stands against this move"),
    "plan-under-way": Problem(409, "A plan is being worked out already"),
    "plan-not-open": Problem(409, "This plan is settled, or not ready yet"),
    "plan-out-of-date": Problem(409, "Facts have changed since this plan was asked for"),
    "crew-lacks-skill": Problem(422, "The crew cannot do that task"),
    "certificate-in-force": Problem(409, "The job has a certificate already"),
    "certificate-not-made": Problem(409, "The certificate's PDF is not made yet"),
    "certificate-void": Problem(409, "The certificate is void already"),
    "change-not-usable": Problem(422, "This change of the laid element cannot be taken"),
    "circuit-impossible": Problem(422, "No circuit can be worked out from this"),
    "clearance-not-answerable": Problem(
        422, "Whether one may fasten there cannot be answered from this"
    ),
    "curve-not-usable": Problem(422, "These figures make no curve of a sensor"),
    "drawing-not-usable": Problem(422, "This drawing cannot be used"),
    "handover-incomplete": Problem(409, "Something is missing before the certificate"),
    "heat-not-usable": Problem(422, "The heat balance cannot be worked out from this"),
    "implausible-cure": Problem(422, "These figures describe no curing"),
    "implausible-facts": Problem(422, "These facts cannot be right"),
    "implausible-humidity": Problem(422, "A humidity cannot be right"),
    "implausible-moisture": Problem(422, "This moisture reading cannot be right"),
    "implausible-number": Problem(422, "A number cannot be right"),
    "implausible-temperature": Problem(422, "A temperature cannot be right"),
    "implausible-time": Problem(422, "A time cannot be right"),
    "implausible-warm-up": Problem(422, "These figures describe no warm-up"),
    "length-not-readable": Problem(422, "A length cannot be read"),
    "log-not-readable": Problem(422, "The logger's file cannot be read"),
    "not-yet": Problem(422, "This time is still to come"),
    "nothing-to-lay": Problem(422, "Nothing of the catalogue can be laid in this room"),
    "outside-curve": Problem(422, "The sensor's curve does not reach that far"),
    "paper-refused": Problem(422, "The paper cannot be made from this"),
    "photo-not-usable": Problem(422, "This file is no photo that can be kept"),
    "key-not-usable": Problem(409, "Nothing can be signed with this key"),
    "plan-breaks-rules": Problem(422, "This laying plan breaks a rule of laying"),
    "plan-not-usable": Problem(422, "This laying plan cannot be used"),
    "planning-problem-refused": Problem(422, "This planning problem cannot be solved as it is"),
    "quantity-not-usable": Problem(422, "No quantity can be worked out from this"),
    "range-not-fit": Problem(422, "This range cannot serve for that"),
    "fault-unclear": Problem(422, "It is not clear where the fault is"),
    "fault-void": Problem(409, "This fault was voided already"),
    "reading-unclear": Problem(422, "It is not clear what was read"),
    "readings-inconsistent": Problem(422, "These readings contradict each other"),
    "room-not-usable": Problem(422, "This room cannot be used as it is"),
    "sent-otherwise": Problem(409, "This id was sent before with something else"),
    "superseded-already": Problem(409, "That check was corrected before"),
    "survey-not-usable": Problem(422, "These survey figures cannot be right"),
    "unknown-country": Problem(422, "The public holidays of this country are not known"),
    "unknown-zone": Problem(422, "There is no time zone of that name"),
    "wire-not-usable": Problem(422, "This wire cannot be used"),
    "archive-not-usable": Problem(422, "This archive cannot be taken in"),
    "export-under-way": Problem(409, "An export is being made already"),
    "export-not-made": Problem(409, "The export's file is not here"),
    "customer-has-open-jobs": Problem(409, "The customer still has open jobs"),
    "erased-already": Problem(409, "The customer's personal data was erased before"),
    "notice-without-address": Problem(409, "There is no address to send this notice to"),
    "calendar-not-usable": Problem(422, "This calendar cannot be taken"),
    "address-not-outside": Problem(422, "Nothing is sent to such an address"),
    "webhook-off": Problem(409, "Nothing is sent there now"),
    "already-acknowledged": Problem(409, "This notice was answered for already"),
    "unexpected": Problem(500, "Something went wrong on our side"),
}


def document(
    slug: str, detail: str = "", errors: list[dict[str, str]] | None = None
) -> dict[str, Any]:
    """A problem document; `type` is a relative reference to the page that explains it."""
    problem = PROBLEMS[slug]
    body: dict[str, Any] = {
        "type": f"/problems/{slug}/",
        "title": problem.title,
        "status": problem.status,
    }
    if detail:
        body["detail"] = detail
    if errors:
        body["errors"] = errors
    return body


def answer(exc: Exception, context: dict[str, Any]) -> Response | None:
    """DRF's exception handler; None leaves the unexpected to be a logged 500."""
    body = describe(exc)
    if body is None:
        return None
    set_rollback()
    headers = {}
    if header := getattr(exc, "auth_header", None):
        headers["WWW-Authenticate"] = header
    if (wait := getattr(exc, "wait", None)) is not None:
        headers["Retry-After"] = str(math.ceil(wait))
    return Response(body, status=body["status"], headers=headers, content_type=MEDIA_TYPE)


def describe(exc: Exception) -> dict[str, Any] | None:
    """The problem document for an exception; None if nobody meant to raise it."""
    match exc:
        case DomainError():
            errors = [{"detail": exc.detail, "pointer": exc.pointer}] if exc.pointer else None
            return document(exc.slug, exc.detail, errors) | exc.members()
        case exceptions.ValidationError():
            return document("not-acceptable", errors=list(_flat(exc.detail, "#")))
        case exceptions.ParseError():
            return document("not-readable", str(exc.detail))
        case exceptions.UnsupportedMediaType():
            return document("unsupported-media-type", f"{exc.detail} Send application/json.")
        case exceptions.NotAuthenticated() | exceptions.AuthenticationFailed():
            return document("not-logged-in", str(exc.detail))
        case exceptions.PermissionDenied() | PermissionDenied():
            return document("not-yours", str(getattr(exc, "detail", "") or exc))
        case exceptions.NotFound() | Http404():
            return document("not-found")
        case exceptions.MethodNotAllowed():
            return document("method-not-allowed", str(exc.detail))
        case exceptions.NotAcceptable():
            return document("no-such-answer", "Answers are application/json.")
        case exceptions.Throttled():
            return document("too-many-tries", str(exc.detail))
    return None


def _flat(detail: Any, pointer: str) -> Iterator[dict[str, str]]:
    """DRF's nested errors as a list of sentences with JSON pointers (RFC 6901, section 6)."""
    if isinstance(detail, dict):
        for name, inner in detail.items():
            plain = str(name).replace("~", "~0").replace("/", "~1")
            yield from _flat(inner, pointer if name == "non_field_errors" else f"{pointer}/{plain}")
    elif isinstance(detail, list) and any(isinstance(inner, dict | list) for inner in detail):
        for index, inner in enumerate(detail):
            yield from _flat(inner, f"{pointer}/{index}")
    elif isinstance(detail, list):
        for inner in detail:
            yield {"detail": str(inner), "pointer": pointer}
    else:
        yield {"detail": str(detail), "pointer": pointer}


def problem_response(slug: str, detail: str = "") -> JsonResponse:
    """The same document where no DRF view is at hand."""
    body = document(slug, detail)
    return JsonResponse(body, status=body["status"], content_type=MEDIA_TYPE)


def problem_page(request: HttpRequest, title: str, *, status: int) -> HttpResponse:
    """A refusal as a page, in the language of whoever is logged in, else of the browser."""
    member = getattr(request, "user", None)
    language = translation.get_language()
    if member is not None and member.is_authenticated:
        language = member.language
    with translation.override(language):
        return render(request, "problem.html", {"title": gettext(title)}, status=status)


def wants_page(request: HttpRequest) -> bool:
    return not request.path.startswith("/api/")


def locked_out(
    request: HttpRequest, response: HttpResponse | None = None, credentials: object = None
) -> HttpResponse:
    """After too many wrong passwords (django-axes calls this)."""
    detail = "Too many wrong passwords for this name from this address. Wait 15 minutes."
    if wants_page(request):
        return problem_page(request, detail, status=429)
    return problem_response("too-many-tries", detail)


def page_not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    if wants_page(request):
        return problem_page(request, "This link does not open anything now.", status=404)
    return problem_response("not-found")


def permission_denied(request: HttpRequest, exception: Exception) -> HttpResponse:
    if wants_page(request):
        return problem_page(request, PROBLEMS["not-yours"].title, status=403)
    return problem_response("not-yours")


def server_error(request: HttpRequest) -> HttpResponse:
    if wants_page(request):
        title = "Something went wrong on our side. Nothing of yours was changed. Try again."
        return problem_page(request, title, status=500)
    return problem_response("unexpected", "Nothing was changed. Send the same again.")


def document_problems(result: dict[str, Any], **_: object) -> dict[str, Any]:
    """Put the problem document into the OpenAPI schema, as every operation's other answer."""
    result["components"]["schemas"]["Problem"] = {
        "type": "object",
        "description": "RFC 9457 problem details.",
        "required": ["type", "title", "status"],
        "properties": {
            "type": {"type": "string", "format": "uri-reference"},
            "title": {"type": "string"},
            "status": {"type": "integer"},
            "detail": {"type": "string"},
            "errors": {
                "type": "array",
                "items": {
                    "type": "object",
                    "required": ["detail", "pointer"],
                    "properties": {"detail": {"type": "string"}, "pointer": {"type": "string"}},
                },
            },
        },
    }
    statuses = sorted({str(HTTPStatus(problem.status).value) for problem in PROBLEMS.values()})
    content = {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}}
    for path in result["paths"].values():
        for operation in path.values():
            operation["responses"]["default"] = {
                "description": f"A problem document; one of {', '.join(statuses)}.",
                "content": content,
            }
    return result
