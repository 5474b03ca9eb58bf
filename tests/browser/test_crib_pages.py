"""The pages of the crib as people use them: by keys, by touch, narrow, dark, printed."""

import io
from collections.abc import Iterator
from functools import partial

import pytest
from playwright.sync_api import Locator, Page, expect
from pypdf import PdfReader

from browser.conftest import Open
from browser.crib import LONG
from browser.looks import axe_faults, open_details, searched, settled, sideways, too_small
from wrung_service.api.admission import KEY_COOKIE
from wrung_service.app import create_app
from wrung_service.settings import Settings

pytestmark = pytest.mark.long

SITE = "/crib/mill"
COVERED = f"{SITE}/coverage?set=inch&unit=in&start=.2&stop=.4&step=.0005"
PAGES = {
    "/crib": ("/crib",),
    "/crib/{site_id}": (f"{SITE}?set=bench", f"{SITE}?set={LONG}", f"{SITE}?set=&lang=de"),
    "/crib/{site_id}/blocks/{block_id}": (
        f"{SITE}/blocks/bench/10?lang=de",
        f"{SITE}/blocks/bench/1.1?lang=en",
        f"{SITE}/blocks/{'L' * 60}",
    ),
    "/crib/{site_id}/stacks": (f"{SITE}/stacks?unit=mm&want=12.345",),
    "/crib/{site_id}/import": (f"{SITE}/import",),
    "/crib/{site_id}/coverage": (f"{SITE}/coverage?lang=de", f"{COVERED}&lang=en"),
}
# Parts of a page, and a PDF.
NO_PAGES = {f"/crib/{{site_id}}/stacks/{name}" for name in ("answer", "more", "cards")}
LINES = "id,nominal,unit,serial,set\nbench/1.49,1.49,mm,<i>1</i>,bench\ninch/1,1,in,77,inch\n"
WIDTHS = ((320, 640), (360, 740), (768, 1024), (1280, 880), (3840, 2160))


def test_every_page_there_is_is_looked_at_here() -> None:
    methods = create_app(Settings(solve_workers=1)).edge.methods
    pages = {path for path in methods if path.startswith("/crib") and "GET" in methods[path]}
    assert pages == PAGES.keys() | NO_PAGES


@pytest.fixture
def enter(open_page: Open, key: str) -> Open:
    """Opens a page of the crib for whoever gave the key before."""
    cookie = {"name": KEY_COOKIE, "value": key, "domain": "127.0.0.1", "path": "/crib"}
    kept = {**cookie, "expires": -1, "httpOnly": True, "secure": False, "sameSite": "Strict"}
    return partial(open_page, storage_state={"cookies": [kept]})


def each_state(page: Page) -> Iterator[str]:
    """Every page in turn, and what an import would change."""
    root = page.url.partition("/crib")[0]
    for path in (path for paths in PAGES.values() for path in paths):
        page.goto(root + path)
        open_details(page)
        yield path
    preview(page, root)
    settled(page)
    yield "preview"


def preview(page: Page, root: str) -> None:
    page.goto(f"{root}{SITE}/import?lang=en")
    page.locator("textarea:visible").fill(LINES)
    page.get_by_role("button", name="show what would change").click()
    expect(page.get_by_role("heading", name="What would change")).to_be_visible()


@pytest.mark.parametrize(("width", "height"), WIDTHS)
def test_nothing_scrolls_sideways_and_what_is_tapped_is_large(
    enter: Open, width: int, height: int
) -> None:
    page = enter("crib", width=width, height=height)
    for state in each_state(page):
        assert sideways(page) <= 0, state
        small = too_small(page, ".sets a", "tbody th a", "h2 a", "textarea")
        # At 320 px, for 400 % zoom, 24 px do (WCAG 2.2, 2.5.8).
        assert not small or width == 320, (state, small[:3])


@pytest.mark.parametrize("width", [768, 1280])
def test_a_long_id_leaves_the_words_beside_it_whole(enter: Open, width: int) -> None:
    """In the row of a plan at risk, say, whose job and block have long names."""
    page = enter("crib/mill?set=bench", width=width, height=880)
    lines: int = page.evaluate(
        """() => {
          const row = [...document.querySelectorAll('main tbody tr')].find(
            (each) => each.cells.length > 3 && each.offsetWidth)
          row.cells[0].textContent = row.cells[2].textContent = 'M'.repeat(120)
          row.cells[3].textContent = 'damaged'
          const word = document.createRange()
          word.selectNodeContents(row.cells[3])
          return word.getClientRects().length
        }"""
    )
    assert lines == 1


@pytest.mark.parametrize(("scheme", "width"), [("light", 1280), ("dark", 390)])
def test_axe_finds_nothing(enter: Open, open_page: Open, scheme: str, width: int) -> None:
    options = {"width": width, "color_scheme": scheme, "bypass_csp": True}
    assert not axe_faults(open_page("crib/mill", **options)), "the page that asks for a key"
    page = enter("crib", **options)
    for state in each_state(page):
        assert not axe_faults(page), state
    colour = page.evaluate("getComputedStyle(document.body).color")
    assert colour == ("rgb(243, 247, 251)" if scheme == "dark" else "rgb(20, 24, 28)")


def test_by_keyboard_from_the_key_to_blocks_that_come_and_go(open_page: Open, key: str) -> None:
    page = open_page("crib/mill?set=bench&lang=en", width=1280)
    page.get_by_label("Key").focus()
    page.keyboard.type(key)
    with page.expect_navigation():
        page.keyboard.press("Enter")
    button = page.get_by_role("button", name="back 1.1 4")
    button.focus()
    with page.expect_navigation():
        page.keyboard.press("Enter")
    expect(button).to_have_count(0)

    page.get_by_label("blocks, scanned or typed").focus()
    page.keyboard.type("bench/1.008 bench/1.009")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    expect(page.get_by_role("button", name="back 1.008 1.009")).to_have_count(1)

    page.locator("a[title='bench/1.007: there']").focus()
    with page.expect_navigation():
        page.keyboard.press("Enter")
    page.get_by_label("condition").focus()
    page.keyboard.type("w")
    page.keyboard.press("Tab")
    page.keyboard.type("burr <here>")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    expect(page.locator("main")).to_contain_text("Worn or damaged: burr <here>")


def test_by_keyboard_from_lines_to_what_they_change(enter: Open) -> None:
    page = enter("crib/mill/import?lang=en", width=1280)
    page.get_by_label("or its lines").focus()
    page.keyboard.insert_text("id,serial\nbench/1.006,77-<b>8</b>\n")
    page.keyboard.press("Tab")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    page.get_by_role("button", name="take over").focus()
    with page.expect_navigation():
        page.keyboard.press("Enter")
    page.goto(f"{page.url.partition('?')[0]}/blocks/bench/1.006")
    expect(page.locator(".block-title")).to_contain_text("77-<b>8</b>")


def test_by_touch_and_without_scripts_on_a_phone(enter: Open) -> None:
    page = enter("crib?lang=en", has_touch=True, is_mobile=True, java_script_enabled=False)
    back = page.get_by_role("button", name="back 1.2", exact=True)

    def tap(tapped: Locator) -> None:
        with page.expect_navigation():
            tapped.tap()

    tap(page.get_by_role("link", name="Mill"))
    tap(page.get_by_role("link", name="inch", exact=True))
    tap(back)
    expect(back).to_have_count(0)
    tap(page.get_by_role("link", name="coverage"))
    page.get_by_label("to").fill("0,3")
    tap(page.get_by_role("button", name="show"))
    expect(page.locator(".coverage svg")).to_be_visible()
    page.locator("summary").tap()
    expect(page.locator("details table")).to_be_visible()


def test_a_page_prints_what_it_shows_and_nothing_to_tap(enter: Open) -> None:
    page = enter("crib/mill?set=bench&lang=en", width=1280)
    text = "".join(each.extract_text() for each in PdfReader(io.BytesIO(page.pdf())).pages)
    for shown in ("case bench as it lies", "what is out", "due for calibration", "plans at risk"):
        assert shown in text
    for tapped in ("shift after", "subscribe", "import", "forget my key", "give out"):
        assert tapped not in text


def test_a_block_that_is_not_there_is_reported_and_put_back_in_one_tap_each(enter: Open) -> None:
    page = enter("crib/mill/stacks?lang=en&unit=mm&case=bench&want=25", has_touch=True)
    case = page.context.new_page()
    said = page.locator(".strip strong")
    page.get_by_role("button", name="25, not there", exact=True).tap()
    expect(said).to_contain_text("25 (bench/25) is reported to the crib as not there")
    expect(page.locator(".block-title dd").first).to_have_text("25 mm")
    case.goto(f"{page.url.partition('/crib')[0]}{SITE}?set=bench&lang=en")
    expect(case.locator("a[title='bench/25: not there']")).to_have_count(1)

    searched(page)
    page.wait_for_timeout(350)
    page.get_by_role("button", name="put back").tap()
    expect(said).to_have_count(0)
    case.reload()
    expect(case.locator("a[title='bench/25: there']")).to_have_count(1)
