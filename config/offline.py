"""What lets the field pages live on a phone: manifest, service worker, outbox, the page without
signal."""

from hashlib import sha256
from pathlib import Path

from django.contrib.staticfiles import finders
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.templatetags.static import static
from django.urls import reverse
from django.utils.translation import gettext as _

from config.pages import page, public_page

FILES = ("firstwarm.css", "outbox.js", "icon.svg")
PAPER, INK = "#F6F7F4", "#15191C"


@page("GET")
def outbox(request: HttpRequest) -> HttpResponse:
    return render(request, "outbox.html")


@public_page("GET")
def offline(request: HttpRequest) -> HttpResponse:
    return render(request, "offline.html")


@public_page("GET")
def manifest(request: HttpRequest) -> HttpResponse:
    """Web application manifest (W3C), so that the field pages can be installed."""
    icon = {"src": static("icon.svg"), "sizes": "any", "type": "image/svg+xml"}
    body = {
        "name": _("Firstwarm on site"),
        "short_name": "Firstwarm",
        "id": "/today/",
        "start_url": reverse("today"),
        "scope": "/",
        "display": "standalone",
        "background_color": PAPER,
        "theme_color": INK,
        "icons": [icon, icon | {"purpose": "maskable"}],
    }
    return JsonResponse(body, content_type="application/manifest+json")


@public_page("GET")
def service_worker(request: HttpRequest) -> HttpResponse:
    """The worker, under the site's root so that it may serve every page; a new version of any
    file that it keeps is a new version of it."""
    shell = [*map(static, FILES), reverse("offline"), reverse("manifest")]
    body = render_to_string(
        "service-worker.js", {"shell": shell, "offline": reverse("offline"), "version": _version()}
    )
    return HttpResponse(body, content_type="text/javascript", headers={"Cache-Control": "no-cache"})


def _version() -> str:
    digest = sha256(render_to_string("service-worker.js").encode())
    for name in FILES:
        found = finders.find(name)
        assert isinstance(found, str)
        digest.update(Path(found).read_bytes())
    return digest.hexdigest()[:12]
