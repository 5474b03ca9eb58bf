"""Plans on paper: drawings of the stacks, cards, and the code on them that leads back."""

import io
from collections.abc import Iterator
from typing import Any, TypeAlias

import msgspec
import pytest
import zxingcpp
from litestar.testing import TestClient
from PIL import Image
from pypdf import PdfReader

from store.planning import asked, made
from store.rows import SITE, Clock, add_block, add_site
from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.store.engine import Store

QUANTA = 100_000_000  # of 0.01 nm in a millimetre
Client: TypeAlias = TestClient[Any]


@pytest.fixture
def client(store: Store, clock: Clock) -> Iterator[Client]:
    """The service with a crib of two blocks."""
    with store.writing() as connection:
        add_site(connection)
        for length in (3, 70):
            add_block(connection, str(length), nominal=length * QUANTA)
    with TestClient(create_app(Settings(), store=store, clock=clock)) as client:
        yield client


def test_a_plan_has_an_address_with_the_drawings_of_its_stacks(client: Client) -> None:
    plan = made(client, asked("73"))

    drawing = client.get(f"/v1/plans/{plan['id']}/drawing")

    assert drawing.headers["content-type"] == "image/svg+xml"
    assert all(f">{length}</text>" in drawing.text for length in ("70", "3", "73"))
    tag = {"If-None-Match": drawing.headers["etag"]}
    assert client.get(f"/v1/plans/{plan['id']}/drawing", headers=tag).status_code == 304
    assert client.get("/v1/plans/none/drawing").status_code == 404


def test_a_plan_has_an_address_with_its_cards(client: Client) -> None:
    """Worked out from its record: the plan asked for no instructions and no uncertainty."""
    plan = made(client, asked("73"))

    cards = client.get(f"/v1/plans/{plan['id']}/cards?job=4471")

    assert cards.headers["content-type"] == "application/pdf"
    text = " ".join(PdfReader(io.BytesIO(cards.content)).pages[0].extract_text().split())
    for needed in ("4471", "73 mm", "k = 2", "Use the stack as 73 mm", "built"):
        assert needed in text
    assert f"record {plan['record']['request_sha256'][:16]}" in text
    assert cards.content == client.get(f"/v1/plans/{plan['id']}/cards?job=4471").content
    tag = {"If-None-Match": cards.headers["etag"]}
    assert client.get(f"/v1/plans/{plan['id']}/cards?job=4471", headers=tag).status_code == 304
    png = {"Accept": "image/png"}
    assert client.get(f"/v1/plans/{plan['id']}/cards?page=2", headers=png).status_code == 404
    assert client.get("/v1/plans/none/cards").status_code == 404


def test_a_browser_gets_the_cards_of_a_plan_as_a_page_with_links_to_paper(client: Client) -> None:
    plan = made(client, asked("73"))
    browser = {"Accept": "text/html,application/xhtml+xml,*/*;q=0.8"}

    page = client.get(f"/v1/plans/{plan['id']}/cards?job=4471", headers=browser)
    shift = client.get(f"/crib/{SITE}?shift=2027-03-01T06", headers=browser)

    assert f'href="/v1/plans/{plan["id"]}/cards"' in shift.text
    assert page.headers["content-type"] == "text/html; charset=utf-8"
    assert "<h1>job 4471</h1>" in page.text
    own = client.get(f"/v1/plans/{plan['id']}/cards", headers=browser)
    assert f"<h1>job {plan['job']}</h1>" in own.text
    assert 'href="../../../bench/bench.css"' in page.text
    assert 'href="?job=4471&amp;format=a6&amp;media=pdf"' in page.text
    paper = f"/v1/plans/{plan['id']}/cards?job=4471&format=a6&media=pdf"
    assert client.get(paper, headers=browser).headers["content-type"] == "application/pdf"


def test_a_code_on_a_card_leads_to_its_plan(client: Client, store: Store, clock: Clock) -> None:
    plan = made(client, asked("73"))
    settings = msgspec.structs.replace(Settings(), public_url="https://crib.example/wrung")
    with TestClient(create_app(settings, clock=clock, store=store)) as named:
        address = f"/v1/plans/{plan['id']}"
        card = named.get(f"{address}/cards", headers={"Accept": "image/png"})

        (code,) = zxingcpp.read_barcodes(Image.open(io.BytesIO(card.content)).convert("1"))
        assert code.text == f"https://crib.example/wrung{address}"
        sheet = named.get(f"{address}/cards?format=sheet-a4")
        text = PdfReader(io.BytesIO(sheet.content)).pages[0].extract_text()
        assert code.text in "".join(text.replace("\u200b", "").split())
