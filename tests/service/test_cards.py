"""Cards for the bench as PDF and PNG: what stands on them, on which paper, in which fonts."""

import io
import re
from typing import Any

import pytest
from pypdf import PageObject, PdfReader

from service.conftest import Client
from service.every_answer import example
from wrung_service.api.cards.rounding import at_most, uncertainty

MM = 72 / 25.4
PAPERS = {
    "a6": (105, 148),
    "half-letter": (139.7, 215.9),
    "a4": (210, 297),
    "letter": (215.9, 279.4),
    "sheet-a4": (210, 297),
    "sheet-letter": (215.9, 279.4),
}


def traveller(count: int = 5, **members: object) -> dict[str, Any]:
    """Operations one after another, from one metric set."""
    targets = [
        {"ref": f"op{10 * n}", "kind": "length", "length": f"{20 + n}.{n:02}5"}
        for n in range(1, count + 1)
    ]
    sets = [{"id": "M", "composition": "metric-112-1", "grade": "1", "material": "steel"}]
    return {"unit": "mm", "sets": sets, "targets": targets, "timing": "in_turn", **members}


def printed(client: Client, body: dict[str, Any], **query: str) -> PdfReader:
    response = client.post("/v1/cards", json=body, params=query)
    assert response.status_code == 200, response.text
    assert response.headers["content-type"] == "application/pdf"
    return PdfReader(io.BytesIO(response.content))


def text_of(reader: PdfReader) -> str:
    return " ".join(" ".join(page.extract_text() for page in reader.pages).split())


def test_a_card_has_all_that_the_bench_needs(client: Client) -> None:
    text = text_of(printed(client, traveller(1), job="4471"))

    (stack,) = client.post("/v1/stacks", json=traveller(1)).json()["stacks"]
    for needed in (
        "4471",
        "op10",
        "21.015 mm",
        "at worst",
        "k = 2",
        "steel, 20 °C",
        "wring from 1",
    ):
        assert needed in text
    assert "figures up" in text
    assert "min beside the work" in text
    assert all(text.count(block["nominal"]) >= 2 for block in stack["blocks"])
    assert re.search(r"built.*checked.*date, time.*card 1 / 1", text)
    assert text.count("!") == 2


def fonts_of(page: PageObject) -> set[str]:
    """The families of the fonts that a page has in it, each as a subset."""
    resources: Any = page["/Resources"]
    fonts = [font.get_object() for font in resources["/Font"].values()]
    return {str(font["/BaseFont"]).partition("+")[2].partition("-")[0] for font in fonts}


@pytest.mark.parametrize("paper", PAPERS)
def test_pages_have_the_size_of_the_paper_and_the_fonts_in_them(client: Client, paper: str) -> None:
    reader = printed(client, traveller(5), format=paper)

    pages = {"a6": 5, "half-letter": 5, "a4": 2, "letter": 2}.get(paper, 1)
    assert len(reader.pages) == pages
    for page in reader.pages:
        assert float(page.mediabox.width) == pytest.approx(PAPERS[paper][0] * MM, abs=0.1)
        assert float(page.mediabox.height) == pytest.approx(PAPERS[paper][1] * MM, abs=0.1)
        assert fonts_of(page) <= {"B612", "RoutedGothic"}


def test_a_set_up_sheet_has_a_line_for_each_of_forty_operations(client: Client) -> None:
    text = text_of(printed(client, traveller(40), format="sheet-a4", job="4471"))

    assert [f"op{10 * n} {20 + n}.{n:02}5 mm" in text for n in range(1, 41)] == [True] * 40
    assert "from the stack before" in text


def test_cards_speak_german(client: Client) -> None:
    text = text_of(printed(client, traveller(1, language="de")))

    for word in ("21,015 mm", "höchstens", "Folge", "Aufschrift", "ansprengen", "Karte 1 / 1"):
        assert word in text
    assert "wring" not in text


def test_one_page_can_be_a_picture(client: Client) -> None:
    png = {"Accept": "image/png"}

    first = client.post("/v1/cards?page=2", json=traveller(2), headers=png)
    none = client.post("/v1/cards?page=3", json=traveller(2), headers=png)

    assert first.content.startswith(b"\x89PNG")
    assert none.status_code == 404


@pytest.mark.parametrize("kind", ["limits", "sine", "check_points", "between_jaws", "fit"])
def test_every_kind_says_what_its_stacks_are_for(client: Client, kind: str) -> None:
    text = text_of(printed(client, example(kind)))

    used = client.post("/v1/stacks", json={**example(kind), "handwork": True}).json()["handwork"]
    uses = [step["text"] for work in used for step in work["steps"] if step["phase"] == "use"]
    assert uses
    assert all(" ".join(use.split())[:40] in text for use in uses)


@pytest.mark.parametrize(
    "query", [{"format": "a5"}, {"page": "0"}, {"page": "x"}, {"job": "x" * 41}, {"job": "a\nb"}]
)
def test_what_there_is_not_is_refused(client: Client, query: dict[str, str]) -> None:
    response = client.post("/v1/cards", json=traveller(1), params=query)

    assert response.status_code == 400
    assert response.json()["type"] == "/problems/invalid-parameter"


@pytest.mark.parametrize(
    ("text", "bound", "sure"),
    [
        ("30", "30", "30"),
        ("28.1665", "29", "28"),
        ("0.1654", "0.17", "0.17"),
        ("104.9", "110", "100"),
        ("1.049", "1.1", "1.0"),
        ("106", "110", "110"),
        ("0", "0", "0"),
    ],
)
def test_figures_on_paper_are_never_too_small(text: str, bound: str, sure: str) -> None:
    """By hand; EA-4/02 M:2022, 6.3 (from memory): 5 % may be lost, 1.049 to 1.0 loses 4.7 %."""
    assert at_most(text) == bound
    assert uncertainty(text) == sure
