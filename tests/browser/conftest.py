"""One Chromium for all tests here; pages are looked at in several widths and both schemes."""

import os
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

WIDTHS = (320, 390, 768, 1440)
SCREENSHOTS = settings.VAR_DIR / "screenshots"
CHROMIUM = os.environ.get("CHROMIUM", "/usr/bin/chromium")
ARGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@pytest.fixture(scope="package")
def chromium(django_db_setup: None) -> Iterator[Browser]:
    """Playwright runs a loop in this thread, and rows are made here all the same."""
    with pytest.MonkeyPatch.context() as patch, sync_playwright() as playwright:
        patch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGS)
        yield browser
        browser.close()


@pytest.fixture
def context_of(chromium: Browser, live_server: Any) -> Iterator[Callable[..., BrowserContext]]:
    """`context_of(olive)` is a fresh browser in which Olive is logged in."""
    made: list[BrowserContext] = []

    def context(member: Any = None, **options: Any) -> BrowserContext:
        options.setdefault("viewport", {"width": 1280, "height": 900})
        fresh = chromium.new_context(base_url=live_server.url, **options)
        fresh.set_default_timeout(10_000)
        made.append(fresh)
        if member is not None:
            client = Client()
            client.force_login(member, "config.authentication.MemberBackend")
            value = client.cookies[settings.SESSION_COOKIE_NAME].value
            fresh.add_cookies(
                [{"name": settings.SESSION_COOKIE_NAME, "value": value, "url": live_server.url}]
            )
        return fresh

    yield context
    for each in made:
        each.close()


class Looker:
    """Opens a page and tells what is wrong with how it looks."""

    def __init__(self, page: Page) -> None:
        SCREENSHOTS.mkdir(parents=True, exist_ok=True)
        self.page = page
        self.complaints: list[str] = []
        page.on("console", self._console)
        page.on("pageerror", lambda error: self.complaints.append(f"script: {error}"))

    def _console(self, message: Any) -> None:
        if message.type == "error" and "422" not in message.text:
            self.complaints.append(f"{self.page.url}: {message.text}")

    def look(self, url: str, name: str, status: int = 200) -> None:
        response = self.page.goto(url)
        assert response is not None
        assert response.status == status, f"{url}: {response.status}"
        self.check(name)

    def check(self, name: str) -> None:
        page = self.page
        if page.locator("h1").count() != 1:
            self.complaints.append(f"{name}: {page.locator('h1').count()} h1")
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 844})
            wide = page.evaluate("document.documentElement.scrollWidth")
            if wide > width:
                self.complaints.append(f"{name} at {width}: {wide} wide")
        for width, scheme in ((1280, "light"), (390, "light"), (390, "dark")):
            page.set_viewport_size({"width": width, "height": 844})
            page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
            if scheme == "light":
                page.screenshot(path=SCREENSHOTS / f"{name}-{width}.png", full_page=True)
            if (width, scheme) != (390, "light"):
                self.complaints += [
                    f"{name} {scheme}: {one['id']}: {one['nodes'][0]['html'][:160]}"
                    for one in Axe().run(page).response["violations"]
                ]
        page.emulate_media(color_scheme="light")


@pytest.fixture
def looker() -> Callable[[Page], Looker]:
    return Looker
