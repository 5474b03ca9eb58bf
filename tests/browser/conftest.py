"""A real browser, headless, against a real server; Debian's Chromium, never one that is fetched."""

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, TypeAlias

import pytest
from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Page,
    Request,
    expect,
    sync_playwright,
)

from browser.crib import fill
from e2e.processes import Server, running
from patience import PATIENCE_S

Open: TypeAlias = Callable[..., Page]
CHROMIUM = shutil.which("chromium")
# Containers may lack the sandbox's rights, and shared memory.
ARGUMENTS = ("--no-sandbox", "--disable-dev-shm-usage")

expect.set_options(timeout=1000 * PATIENCE_S)


@pytest.fixture(scope="session")
def store_url(tmp_path_factory: pytest.TempPathFactory, sqlite_template: Path) -> str:
    """The address of the store that the pages show; as yet empty."""
    return f"sqlite:///{shutil.copy(sqlite_template, tmp_path_factory.mktemp('crib'))}"


@pytest.fixture(scope="session")
def key(store_url: str) -> str:
    """What opens the pages of a crib that is full."""
    return fill(store_url)


@pytest.fixture(scope="session")
def server(store_url: str, key: str) -> Iterator[Server]:
    """One for all tests of the pages."""
    assert key
    with running("--store-url", store_url, "--access", "required") as started:
        yield started


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """One for the tests of a file; each has a profile of its own in it.

    While it is there, its thread has a running event loop: a test that starts one would fail.
    """
    if CHROMIUM is None:
        pytest.skip("no chromium on the path: install Debian's package of that name")
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(
            executable_path=CHROMIUM, args=ARGUMENTS, timeout=1000 * PATIENCE_S
        )
        yield started
        started.close()


@pytest.fixture
def open_page(browser: Browser, server: Server) -> Iterator[Open]:
    """Opens an address at a width; at the end nothing was asked of others, and no error logged."""
    contexts: list[BrowserContext] = []
    faults: list[str] = []
    pages: set[str] = set()

    def logged(said: ConsoleMessage) -> None:
        # The status of the page itself is no fault of the page: one that asks for a key is a 401.
        # It may be logged before the browser calls that address the page's.
        if said.type == "error" and said.location.get("url") not in pages:
            faults.append(said.text)

    def asked(request: Request) -> None:
        if request.is_navigation_request():
            pages.add(request.url)
        if not request.url.startswith((server.address + "/", "data:")):
            faults.append(request.url)

    def opened(query: str = "", width: int = 390, height: int = 844, **options: Any) -> Page:  # noqa: ANN401 - as the browser takes them
        contexts.append(browser.new_context(viewport={"width": width, "height": height}, **options))
        contexts[-1].set_default_timeout(1000 * PATIENCE_S)
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
