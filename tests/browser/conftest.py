"""A served workshop and Debian's Chromium. A trouble in any page fails the test that opened it."""

from __future__ import annotations

import shutil
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, sync_playwright

from tests.browser.navigator import PHONE, Opens, Visit
from tests.browser.served import Served, planted_in

# It speaks to nobody but the server of the tests.
CHROMIUM_ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-proxy-server",
]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if "tests/browser/" in item.path.as_posix():
            item.add_marker(pytest.mark.browser)
            # One server and one browser, whatever the number of processes that run tests.
            item.add_marker(pytest.mark.xdist_group("browser"))


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    program = shutil.which("chromium")
    if program is None:
        pytest.skip("Chromium is not installed")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=CHROMIUM_ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    served = planted_in(tmp_path_factory.mktemp("browser") / "data")
    try:
        served.start()
        yield served
    finally:
        served.stop()


@pytest.fixture
def opens(chromium: Browser, served: Served) -> Iterator[Opens]:
    """Give somebody a browser: `opens()`, or `opens("idris.pellamy", viewport=DESK)`."""
    visits: list[Visit] = []

    def open_one(as_: str | None = None, **wishes: object) -> Visit:
        settings = {"viewport": PHONE, "locale": "en-GB", **wishes}
        context = chromium.new_context(**settings)  # type: ignore[arg-type]
        context.set_default_timeout(10_000)
        visit = Visit(context, served.address)
        visits.append(visit)
        if as_:
            visit.signs_in(as_)
        return visit

    yield open_one
    for visit in visits:
        visit.context.close()
    assert [trouble for visit in visits for trouble in visit.troubles.seen] == []
