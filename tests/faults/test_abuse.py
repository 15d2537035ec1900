"""Guessed and dead links, scanners that open every address, markup in every text."""

from datetime import timedelta
from html.parser import HTMLParser

import pytest
from django.apps import apps
from django.db import connection, models
from django.db.models import F, Value
from django.db.models.functions import Concat, Left
from django.test.utils import CaptureQueriesContext
from django.urls import get_resolver, reverse

from config.tenancy import TenantModel
from jobs.actions.links import make_link, open_link
from jobs.models import Contractor, Link, Member
from scheduling.actions.notices import link_to, review_visit
from scheduling.models import Notice
from tests.pages import world
from tests.test_access import ACCESS, routes, things

__all__ = ["things"]  # a fixture

DAY = timedelta(days=1)
YEAR = timedelta(days=365)
# What each address behind a link is for. Whoever sets a company up has a signed one instead.
PURPOSES = {
    "notice": "notice",
    "api-public-notice": "notice",
    "owner": "owner",
    "owner-certificate": "owner",
    "owner-calendar": "owner",
    "certificate-by-link": "certificate",
    "verify": "verify",
    "feed": "feed",
    "trade": "trade",
    "trade-calendar": "trade",
    "label": "label",
    "label-sheet": "label",
}
MARKUP = "'\"><svg onload=a()>"
TEXTS = {
    "name", "title", "street", "postcode", "city", "note", "serial", "label", "sheet", "company",
    "trade", "phone", "scope", "because", "source_name", "licence_number", "acknowledged_by",
    "last_error", "void_reason", "failure", "stopped_because", "refused", "number",
}  # fmt: skip

PAIRED = {"acknowledged_by", "stopped_because", "void_reason"}  # empty where something else is


def opened_by_a_secret():
    return {
        pattern.name
        for pattern in routes(get_resolver().url_patterns)
        if list(pattern.pattern.converters) == ["secret"]
    } - {"first"}


@pytest.fixture
def small(olive, finn, real_now):
    built = world.build(olive, finn, real_now)
    built.visit.notices.all().delete()
    review_visit(visit=built.visit, at=real_now)
    return built


@pytest.mark.django_db
@pytest.mark.parametrize("route", sorted(opened_by_a_secret()))
def test_guessed_expired_revoked_and_misused_links_are_answered_alike(
    client, small, real_now, route
):
    """The same words after the same queries: neither tells whether a link was ever there."""
    purpose = PURPOSES[route]  # a new address has to be told above what it is for
    made = {"job": small.job, "subject_id": small.job.pk}

    def secret(purpose, at):
        return make_link(purpose=purpose, at=at, lasts=YEAR, **made)[1]

    revoked = secret(purpose, real_now)
    Link.objects.update(revoked_at=real_now)
    dead = {
        "guessed": "x" * 43,
        "no secret at all": "ü" * 300,
        "expired": secret(purpose, real_now - 2 * YEAR),
        "revoked": revoked,
        "for something else": secret(next(p for p in PURPOSES.values() if p != purpose), real_now),
    }
    told = {}
    for why, each in dead.items():
        with CaptureQueriesContext(
            connection,
        ) as queries:
            answer = client.get(reverse(route, args=[each]))
        shapes = [query["sql"].split("WHERE")[0] for query in queries.captured_queries]
        told[why] = (answer.status_code, answer.content, sorted(answer.headers.items()), shapes)
    assert told["guessed"][0] == 404
    assert {why: one for why, one in told.items() if one != told["guessed"]} == {}


@pytest.mark.django_db
def test_a_link_is_looked_up_by_its_digest_and_nothing_else(small, real_now):
    """No secret is compared in our own process, where its first letters could be felt for."""
    with CaptureQueriesContext(connection) as queries:
        open_link(purpose="owner", secret="guessed", at=real_now)
    (query,) = queries.captured_queries
    assert '"digest" = \'' in query["sql"]
    assert "guessed" not in query["sql"]


SCANNERS = [
    ("get", {}),
    ("head", {}),
    ("options", {}),
    ("get", {"HTTP_SEC_PURPOSE": "prefetch"}),
    ("get", {"HTTP_USER_AGENT": "link checker"}),
]


@pytest.mark.django_db
def test_scanners_that_open_everything_change_nothing(client, small, real_now):
    row = Notice.objects.get(visit=small.visit)
    url = link_to(row, at=real_now)
    secret = url.rstrip("/").rpartition("/")[2]
    before = list(Notice.objects.values())
    for path in (f"/notice/{secret}/", f"/api/v1/public/notices/{secret}/"):
        for method, headers in SCANNERS:
            for query in ("", "?name=Scanner", "?lang=es&name=Scanner&confirm=1"):
                answer = getattr(client, method)(f"{path}{query}", **headers)
                assert answer.status_code in (200, 405), answer.content
    assert list(Notice.objects.values()) == before
    assert client.post(f"/notice/{secret}/", {"name": "Tam Plumber"}).status_code == 302
    assert Notice.objects.get().acknowledged_by == "Tam Plumber"


@pytest.fixture
def hostile(small, things):
    """Markup at the end of every text that somebody can have typed."""
    with connection.cursor() as cursor:
        cursor.execute("SET LOCAL session_replication_role = replica")  # over the triggers, too
    for model in apps.get_models():
        if not issubclass(model, TenantModel | Contractor | Member):
            continue
        for field in model._meta.concrete_fields:
            if field.name in TEXTS and isinstance(field, models.CharField | models.TextField):
                kept = F(field.name)
                if field.max_length:
                    kept = Left(field.name, max(field.max_length - len(MARKUP), 0))
                if not field.max_length or field.max_length > len(MARKUP):
                    rows = model.objects.exclude(**{field.name: ""} if field.name in PAIRED else {})
                    rows.update(**{field.name: Concat(kept, Value(MARKUP))})
    for row in Notice.objects.all():
        row.content = hurt(row.content)
        row.save()
    with connection.cursor() as cursor:
        cursor.execute("SET LOCAL session_replication_role = DEFAULT")
    return things


def hurt(content):
    """Notice's content with markup in the texts that come from rows."""
    typed = {"address", "name", "phone", "company", "trade", "room_name"}
    if isinstance(content, dict):
        return {
            key: f"{value}{MARKUP}" if key in typed and isinstance(value, str) else hurt(value)
            for key, value in content.items()
        }
    return [hurt(each) for each in content] if isinstance(content, list) else content


class Handlers(HTMLParser):
    """Elements with an attribute that runs something."""

    def __init__(self, page):
        super().__init__()
        self.found = []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.found += [(tag, name) for name, _ in attrs if name.startswith("on")]


def opened(client, url):
    answer = client.get(url)
    content = b"".join(answer.streaming_content) if answer.streaming else answer.content
    return answer.status_code, answer["Content-Type"], content.decode("utf-8", "replace")


@pytest.mark.django_db
def test_markup_in_any_text_stays_text_on_every_page(api, olive, hostile, small, real_now):
    olive.refresh_from_db()
    client = api(olive)
    urls = [
        reverse(route, kwargs=hostile.get(route))
        for (method, route), answers in ACCESS.items()
        if method == "GET" and answers["olive"] == 200 and not route.startswith("api-")
    ]
    urls += [reverse(route, kwargs=hostile[route]) for route in ("api-plan-svg", "api-cure-chart")]
    urls += [
        f"/jobs/{small.job.pk}/",
        f"/rooms/{small.kitchen.pk}/",
        f"/rooms/{small.bathroom.pk}/",
    ]
    for purpose in ("owner", "notice"):
        row = Notice.objects.filter(visit=small.visit).first()
        subject = {"subject_id": row.pk} if purpose == "notice" else {}
        link = make_link(job=small.job, purpose=purpose, at=real_now, lasts=DAY, **subject)
        urls += [f"/{purpose}/{link[1]}/", f"/{purpose}/{link[1]}/?lang=es"]
    alive, harmless = [], 0
    for url in urls:
        status, kind, text = opened(client, url)
        assert status == 200, url
        if "html" not in kind and "svg" not in kind:
            continue
        if "<svg onload" in text or Handlers(text).found:
            alive.append(url)
        harmless += "&lt;svg onload" in text
    assert alive == []
    assert harmless > 20  # it was there, as text
