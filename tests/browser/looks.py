"""What holds of every page: it fits its width, is large enough to tap, and axe finds nothing."""

import sys
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

_AXE = Path(sys.prefix) / "npm" / "node_modules" / "axe-core" / "axe.min.js"
_TAPPED = "button:not(.hidden), a.act, summary, select, header a"
_WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def settled(page: Page) -> None:
    """Wait until it stands as it will: all of it is there, and its fonts are."""
    page.wait_for_load_state()
    # What text needs is known, and asked for, once it is laid out.
    page.evaluate("document.body.offsetHeight >= 0 && document.fonts.ready.then(() => null)")


def searched(page: Page) -> None:
    """Wait until what is shown stays: a longer search would put its answer in its place."""
    expect(page.locator("#answer")).to_have_class("answer")


def open_details(page: Page) -> None:
    """Open whatever a person can open."""
    page.evaluate("document.querySelectorAll('details').forEach((each) => { each.open = true })")
    settled(page)


def sideways(page: Page) -> int:
    """How many pixels it would scroll sideways."""
    over: int = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    return over


def too_small(page: Page, *others: str) -> list[str]:
    """What is tapped and less than 48 px wide or high; ``others`` are selectors of the page."""
    small: list[str] = page.evaluate(
        """(tapped) => [...document.querySelectorAll(tapped)]
          .map((each) => [each.outerHTML.slice(0, 90), each.getBoundingClientRect()])
          .filter(([, box]) => box.width && (box.height < 47.5 || box.width < 47.5))
          .map(([text, box]) => `${text} ${box.width} x ${box.height}`)""",
        ", ".join((_TAPPED, *others)),
    )
    return small


def axe_faults(page: Page) -> list[tuple[str, str]]:
    """What axe-core finds against WCAG 2.2 AA; the page was opened with ``bypass_csp``."""
    if not _AXE.exists():
        pytest.skip("no axe-core of npm: `make test-long` installs it")
    settled(page)
    page.add_script_tag(path=_AXE)
    found = page.evaluate("(tags) => axe.run({runOnly: tags}).then((all) => all.violations)", _WCAG)
    return [(each["id"], each["nodes"][0]["html"][:120]) for each in found]
