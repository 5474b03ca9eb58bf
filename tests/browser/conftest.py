"""A real browser, headless, against a real server; Debian's Chromium, never one that is fetched."""

import shutil
from collections.abc import Callable, Iterator
from typing import Any, TypeAlias

import pytest
from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Page,
    Request,
    sync_playwright,
)

from e2e.processes import Server, running

Open: TypeAlias = Callable[..., Page]
CHROMIUM = shutil.which("chromium")


@pytest.fixture(scope="session")
def server() -> Iterator[Server]:
    """One for all tests of the pages."""
    with running() as started:
        yield started


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """One for all tests; each has a profile of its own in it."""
    if CHROMIUM is None:
        pytest.skip("no chromium on the path: install Debian's package of that name")
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield started
        started.close()


@pytest.fixture
def open_page(browser: Browser, server: Server) -> Iterator[Open]:
    """Opens an address at a width; at the end nothing was asked of others, and no error logged."""
    contexts: list[BrowserContext] = []
    faults: list[str] = []

    def logged(said: ConsoleMessage) -> None:
        if said.type == "error":
            faults.append(said.text)

    def asked(request: Request) -> None:
        if not request.url.startswith((server.address + "/", "data:")):
            faults.append(request.url)

    def opened(query: str = "", width: int = 390, height: int = 844, **options: Any) -> Page:  # noqa: ANN401 - as the browser takes them
        contexts.append(browser.new_context(viewport={"width": width, "height": height}, **options))
        page = contexts[-1].new_page()
        page.on("console", logged)
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.on("request", asked)
        page.goto(f"{server.address}/{query}")
        return page

    yield opened
    for context in contexts:
        context.close()
    assert not faults
