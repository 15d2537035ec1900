"""The certificate by its private link, and the page that compares a paper with the record."""

from hashlib import sha256
from typing import Any

from django.http import FileResponse, Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.csrf import csrf_exempt

from config.pages import TimedRequest, private_page
from scheduling.actions import certificates
from scheduling.models import Certificate
from scheduling.pages.public import other_languages

MOST_BYTES = 20_000_000
"""Of a paper that is compared; ours have less than a tenth."""


@private_page("GET")
def certificate_by_link(request: TimedRequest, secret: str) -> HttpResponseBase:
    """The PDF; 404 alike for links unknown, expired and revoked, and until it is made."""
    row = certificates.certificate_of_link(secret=secret, at=request.now)
    if row is None:
        raise Http404
    return paper_of(row)


# Nothing is changed by it, and the body is not to be read before its length is known to be small.
@csrf_exempt
@private_page("GET", "POST")
def verify(request: TimedRequest, secret: str) -> HttpResponseBase:
    """Whether a certificate still stands, and whether a file is the paper as it was issued."""
    row = certificates.certificate_to_verify(secret=secret, at=request.now)
    if row is None:
        raise Http404
    said, wrong = "", ""
    if request.method == "POST":
        said, wrong = _compared(request, row)
    shown = {
        "contractor": row.contractor,
        "row": row,
        "replaced_by": certificates.number_after(row),
        "zone": row.job.time_zone,
        "languages": other_languages(request),
        "said": said,
        "wrong": wrong,
        "most_mb": MOST_BYTES // 1_000_000,
    }
    return render(request, "scheduling/verify.html", shown, status=422 if wrong else 200)


def paper_of(row: Certificate) -> HttpResponseBase:
    """The PDF as issued; of a voided certificate a copy that says so before all else."""
    if not row.voided_at:
        return FileResponse(row.pdf.open(), filename=f"certificate-{row.number}.pdf")
    from scheduling.actions.papers import void_copy  # the rest of the web does without its weight

    answer = HttpResponse(void_copy(row), content_type="application/pdf")
    answer.headers["Content-Disposition"] = f'inline; filename="certificate-{row.number}-void.pdf"'
    return answer


def _compared(request: TimedRequest, row: Certificate) -> tuple[str, str]:
    """What comparing the sent file says: `same` or `other`, or else what is wrong with it."""
    if int(request.headers.get("Content-Length") or 0) > MOST_BYTES:
        return "", _("This file is too large to be the certificate.")
    sent: Any = request.FILES.get("file")
    if not sent:
        return "", _("Choose the certificate’s PDF first.")
    digest = sha256()
    for chunk in sent.chunks():
        digest.update(chunk)
    return ("same" if digest.hexdigest() == row.pdf_digest else "other"), ""
