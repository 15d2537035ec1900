"""When pages can be used on a slow phone with a bad signal, by the browser's own clock.

Usable is the later of the first contentful paint and the end of DOMContentLoaded: what is deferred
has run, and the main button does what it says. The processor is slowed 4 times; the network is
3G-like with 1.6 Mbit/s down, 0.75 Mbit/s up and 150 ms there and back for each request (from
memory: what page audits take for a phone). Static files are collected and compressed as in
production; TLS, and the round trips that it costs once, are not in it.
"""

import os
import statistics
import tempfile
from datetime import UTC, datetime
from typing import Any

from tests.bench.server import database, gunicorn, row

GOAL_MS = 1000
ROUNDS = 5
SLOWER = 4
ROUND_TRIP_MS = 150
BYTES_PER_SECOND = {"downloadThroughput": 1.6e6 / 8, "uploadThroughput": 0.75e6 / 8}
PHONE = {"width": 390, "height": 664}
DESK = {"width": 1280, "height": 900}
WRITTEN = """() =>
  performance.getEntriesByType("navigation")[0].loadEventEnd > 0 &&
  performance.getEntriesByName("first-contentful-paint").length > 0
"""
TIMES = """() => {
  const [visit] = performance.getEntriesByType("navigation");
  const paint = performance.getEntriesByName("first-contentful-paint")[0];
  return [paint.startTime, visit.domContentLoadedEventEnd, visit.loadEventEnd];
}"""


def main() -> list[str]:
    os.environ.setdefault("LOG_LEVEL", "ERROR")
    with tempfile.TemporaryDirectory() as folder:
        os.environ["BENCH_STATIC"] = folder
        with database():
            from django.core.management import call_command

            call_command("collectstatic", interactive=False, verbosity=0)
            pages, sessions = _world()
            with gunicorn() as port:
                return _looked_at(f"http://127.0.0.1:{port}", pages, sessions)


def _world() -> tuple[list[tuple[str, str, str]], dict[str, str]]:
    """(name, who looks, address) of each page, and the session cookie of each who is logged in."""
    from django.conf import settings
    from django.test import Client
    from django.urls import reverse

    from tests.browser.test_public import addresses
    from tests.factories import ContractorFactory, MemberFactory
    from tests.pages.world import build

    alder = ContractorFactory()
    olive = MemberFactory(contractor=alder, role="office")
    finn = MemberFactory(contractor=alder, role="field")
    now = datetime.now(UTC)  # noqa: TID251 (a page reads the clock)
    world = build(olive, finn, now)
    notice, owner = addresses(olive, world, now)
    sessions = {}
    for who, member in (("office", olive), ("field", finn)):
        client = Client()
        client.force_login(member, "config.authentication.MemberBackend")
        sessions[who] = client.cookies[settings.SESSION_COOKIE_NAME].value
    room = [world.bathroom.pk]
    return [
        ("today", "field", reverse("today")),
        ("a room on the phone", "field", reverse("field-room", args=room)),
        ("a reading", "field", reverse("measure-step", args=[*room, "laid", 1])),
        ("a trade's page", "", notice),
        ("an owner's page", "", owner),
        ("needs you", "office", reverse("home")),
        ("a room", "office", reverse("room", args=room)),
    ], sessions


def _looked_at(url: str, pages: list[tuple[str, str, str]], sessions: dict[str, str]) -> list[str]:
    from playwright.sync_api import sync_playwright

    from tests.browser.conftest import ARGS, CHROMIUM

    lines = ["| page | usable, median (worst); painted; loaded | goal | met |", "|---|---|---|---|"]
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGS)
        for name, who, address in pages:
            first, later = [], []
            for _ in range(ROUNDS):
                context = browser.new_context(
                    base_url=url, viewport=DESK if who == "office" else PHONE
                )
                if who:
                    cookie = {"name": "sessionid", "value": sessions[who], "url": url}
                    context.add_cookies([cookie])
                first.append(_times(context, address))
                if who == "field":
                    later.append(_later(context, address))
                context.close()
            lines.append(_told(f"{name}, first visit", first))
            if later:
                lines.append(_told(f"{name}, later", later))
        browser.close()
    return lines


def _later(context: Any, address: str) -> list[float]:
    """A visit after one that has put the shell on the phone."""
    page = context.new_page()
    page.goto("/today/")
    page.get_by_text("Kept on this phone: rooms").wait_for()
    page.close()
    return _times(context, address)


def _times(context: Any, address: str) -> list[float]:
    """Painted, ready, loaded; ms after the address was asked for."""
    page = context.new_page()
    page.goto("about:blank")
    session = context.new_cdp_session(page)
    session.send("Network.enable")
    session.send(
        "Network.emulateNetworkConditions",
        {"offline": False, "latency": ROUND_TRIP_MS, **BYTES_PER_SECOND},
    )
    session.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    page.goto(address, wait_until="load")
    page.wait_for_function(WRITTEN)
    found: list[float] = page.evaluate(TIMES)
    page.close()
    return found


def _told(name: str, times: list[list[float]]) -> str:
    usable = [max(painted, ready) for painted, ready, _loaded in times]
    median = statistics.median(usable)
    painted = statistics.median(each[0] for each in times)
    loaded = statistics.median(each[2] for each in times)
    return row(
        name,
        f"{median:.0f} ({max(usable):.0f}); {painted:.0f}; {loaded:.0f} ms",
        f"{GOAL_MS} ms",
        met=median <= GOAL_MS,
    )
