"""A real browser at the demo site, one person for each role."""

import os
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, Page

from kits.demo.services import fill, make_people
from takeoff.models import Site, User
from tests.browser.pages import HEIGHTS, Stop

# The browser's own loop runs in this thread; the database is asked from it all the same, one call at a time.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--screens", metavar="FOLDER", help="Keep a picture of every page that is named for the docs.")
    parser.addoption("--gallery", metavar="FOLDER", help="Keep every page in every width, light, dark and on paper.")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if "browser" in Path(str(item.fspath)).parts:
            item.add_marker(pytest.mark.browser)


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args):
    return {
        **browser_type_launch_args,
        "executable_path": "/usr/bin/chromium",
        "args": ["--no-sandbox", "--disable-gpu"],
    }


@pytest.fixture
def site(transactional_db, settings, tmp_path) -> Site:
    """The demo site, filled as the command `demo` fills it."""
    settings.MEDIA_ROOT = tmp_path / "media"
    found, _result = fill(folder=tmp_path / "sheets")
    make_people(site=found)
    return found


class Doors:
    """Opens pages as somebody, and remembers what went wrong on any of them."""

    def __init__(self, browser: Browser, base_url: str) -> None:
        self.browser = browser
        self.base_url = base_url
        self.contexts: list[BrowserContext] = []
        self.kept: dict[tuple[str, int, str], Page] = {}
        self.wrong: list[str] = []

    def open(self, role: str = "", *, width: int = 1440, height: int = 900, scheme: str = "light", **more) -> Page:
        # Keeping pages for want of signal asks for dozens of them: only for a test that is about that.
        said = {"service_workers": "block", **more}
        context = self.browser.new_context(
            base_url=self.base_url, viewport={"width": width, "height": height}, color_scheme=scheme, **said
        )
        self.contexts.append(context)
        if role:
            client = Client()
            client.force_login(User.objects.get(username=role), backend="django.contrib.auth.backends.ModelBackend")
            session = client.cookies["sessionid"].value
            context.add_cookies([{"name": "sessionid", "value": session, "url": self.base_url}])
        page = context.new_page()
        page.set_default_timeout(10_000)
        page.on("console", self._said)
        page.on("pageerror", lambda error: self.wrong.append(str(error)))
        page.on("request", self._own)
        return page

    def visit(self, stop: Stop, *, width: int = 1440, scheme: str = "light") -> Page:
        """Go to a page as who opens it; one window for each person, width and scheme goes from page to page."""
        key = (stop.role, width, scheme)
        if key not in self.kept:
            self.kept[key] = self.open(stop.role, width=width, height=HEIGHTS.get(width, 900), scheme=scheme)
        answer = self.kept[key].goto(stop.url)
        assert answer is not None
        assert answer.status == stop.status, stop
        return self.kept[key]

    def _said(self, message) -> None:
        # A page that answers so on purpose (refused form, not found) is told as an error, too; what it needs is not.
        refused = re.search("status of (403|404|422)", message.text)
        if "ERR_INTERNET_DISCONNECTED" in message.text:
            return  # a test took the signal away
        if message.location["url"].endswith("/favicon.ico") or "/photos/" in message.page.url:
            return  # a picture by itself has no page that names ours
        if message.type == "error" and not (refused and message.location["url"] == message.page.url):
            self.wrong.append(message.text)

    def _own(self, request) -> None:
        if not request.url.startswith(self.base_url):
            self.wrong.append(f"asked elsewhere: {request.url}")


@pytest.fixture
def doors(browser: Browser, live_server) -> Iterator[Doors]:
    """Pages at the served demo site; a message on the console or a request to elsewhere fails the test."""
    found = Doors(browser, live_server.url)
    yield found
    for context in found.contexts:
        context.close()
    assert found.wrong == []


@pytest.fixture
def screens(request) -> Path | None:
    """Where pictures for the docs are kept, or None."""
    return folder_of(request, "--screens")


@pytest.fixture
def gallery(request) -> Path | None:
    """Where pictures of everything are kept, or None."""
    return folder_of(request, "--gallery")


def folder_of(request, option: str) -> Path | None:
    folder = request.config.getoption(option, default=None)
    if folder:
        Path(folder).mkdir(parents=True, exist_ok=True)
    return Path(folder) if folder else None
