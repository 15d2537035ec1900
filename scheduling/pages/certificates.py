"""The certificate for whoever holds its private link."""

from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.utils import timezone

from config.pages import public_page
from scheduling.actions import certificates


@public_page("GET")
def certificate_by_link(request: HttpRequest, secret: str) -> HttpResponse | FileResponse:
    """The PDF; 404 alike for links unknown, expired and revoked, and until it is made."""
    row = certificates.certificate_of_link(secret=secret, at=timezone.now())
    if row is None:
        raise Http404
    answer = FileResponse(row.pdf.open(), filename=f"certificate-{row.number}.pdf")
    answer.headers["Cache-Control"] = "private, no-store"
    answer.headers["X-Robots-Tag"] = "noindex"
    return answer
