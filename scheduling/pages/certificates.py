"""The certificate for whoever holds its private link."""

from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.utils import timezone

from config.pages import public_page
from jobs.actions.links import open_link
from scheduling.models import Certificate


@public_page("GET")
def certificate_by_link(request: HttpRequest, secret: str) -> HttpResponse | FileResponse:
    """The PDF; 404 alike for links unknown, expired and revoked, and until it is made."""
    link = open_link(purpose="certificate", secret=secret, at=timezone.now())
    if link is None:
        raise Http404
    row = Certificate.objects.visible_to(link).filter(pk=link.subject_id).defer("data").first()
    if row is None or not row.made_at:
        raise Http404
    answer = FileResponse(row.pdf.open(), filename=f"certificate-{row.number}.pdf")
    answer.headers["Cache-Control"] = "private, no-store"
    answer.headers["X-Robots-Tag"] = "noindex"
    return answer
