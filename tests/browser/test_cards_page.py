"""Cards on a screen: wide and narrow, dark, printed, with what leads to paper."""

import io

import pytest
from playwright.sync_api import expect
from pypdf import PdfReader

from browser.conftest import Open
from browser.looks import axe_faults, settled

pytestmark = pytest.mark.long

SETS = "?unit=in&set=A~inch-81~AS-1~0.05~0.05&set=B~inch-36~0"
CARDS = f"bench/cards{SETS}&wear=both&want=2.3146&kept=10~length~want=.4386&timing=in_turn"
GERMAN = "bench/cards?unit=mm&lang=de&set=A~metric-122~1&want=58,7915"


@pytest.mark.parametrize(("width", "scheme"), [(320, "light"), (360, "dark"), (1280, "light")])
def test_cards_fit_every_screen_and_axe_finds_nothing(
    open_page: Open, width: int, scheme: str
) -> None:
    page = open_page(width=width, color_scheme=scheme, bypass_csp=True)
    for address in (CARDS, f"{CARDS}&format=sheet-letter", GERMAN):
        page.goto(page.url.partition("bench/")[0] + address)
        settled(page)
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        small = page.evaluate(
            """() => [...document.querySelectorAll('a, main label')]
              .map((each) => each.getBoundingClientRect())
              .filter((box) => box.height < 47.5 || box.width < 47.5).length"""
        )
        assert small == 0
        assert axe_faults(page) == []


def test_the_page_to_type_into_leads_to_cards_and_these_to_paper(open_page: Open) -> None:
    page = open_page(CARDS.removeprefix("bench/cards"), java_script_enabled=False)
    page.get_by_role("link", name="At the bench").click()

    expect(page.locator(".card .length b")).to_have_text(["0.4386", "2.3146"])
    for form, start in (("PDF", b"%PDF"), ("PNG", b"\x89PNG")):
        link = page.get_by_role("link", name=form).last.get_attribute("href")
        file = page.request.get(f"{page.url.partition('?')[0]}{link}")
        assert file.body().startswith(start)


def test_a_printed_page_has_the_cards_and_no_links(open_page: Open) -> None:
    page = open_page(CARDS)

    text = "".join(each.extract_text() for each in PdfReader(io.BytesIO(page.pdf())).pages)

    assert "2.3146" in text
    assert "built" in text
    assert "PNG" not in text
