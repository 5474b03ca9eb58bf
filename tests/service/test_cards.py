"""Cards for the bench as PDF and PNG: what stands on them, on which paper, in which fonts."""

import html
import re
import sys
from pathlib import Path
from typing import Any

import pytest
import zxingcpp
from PIL import Image
from pypdf import PageObject

from service.conftest import Client, Start
from service.every_answer import example
from service.printed_cards import MM, PAPERS, picture, printed, text_of, text_of_page, traveller
from wrung.rounding import at_most, uncertainty
from wrung_service.api.cards import printing, typesetting


def codes_in(image: Image.Image) -> list[str]:
    return [code.text for code in zxingcpp.read_barcodes(image)]


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
        "wring after 50 min beside the work; from 1 up",
    ):
        assert needed in text
    assert "figures up" in text
    assert "Then 20 min beside the work." in text
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


def test_no_sign_of_a_name_is_gone_from_the_paper(client: Client) -> None:
    body = traveller(1)
    body["sets"][0]["id"] = "Žilina 孔径"
    body["targets"][0]["ref"] = "Łódź Шлифовка Ωμέγα № 5 ≤ 検査 🔩 e\u0301"

    text = text_of(printed(client, body, job="Dvořák €"))

    assert "Łódź Шлифовка Ωμέγα № 5 ≤ □□ □ é" in text
    assert "Žilina □□" in text
    assert "Dvořák €" in text


def test_a_set_up_sheet_has_a_line_for_each_of_forty_operations(client: Client) -> None:
    body = traveller(40)
    body["sets"][0]["missing"] = ["1.09", "7"]

    reader = printed(client, body, format="sheet-a4", job="4471")

    text = text_of(reader)
    assert [f"op{10 * n} length {20 + n}.{n:02}5" in text for n in range(1, 41)] == [True] * 40
    assert len(reader.pages) == 2
    for page in reader.pages:
        assert "job 4471 shelf M, grade 1 out of it 1.09 7 stacks 40" in text_of_page(page)
        assert "from the stack before" in text_of_page(page)


def test_a_sheet_says_what_stays_of_the_stack_before(client: Client) -> None:
    body = {
        "unit": "mm",
        "blocks": [{"id": n, "nominal": n, "grade": "0"} for n in ("20", "1.5", "1.2")],
        "targets": [
            {"ref": "a", "kind": "length", "length": "21.5"},
            {"ref": "b", "kind": "length", "length": "21.2"},
        ],
        "timing": "in_turn",
    }

    text = text_of(printed(client, body, format="sheet-a4"))

    assert "20 + 1.5 new stack" in text
    assert "20 + 1.2 keep 20" in text


def test_a_sheet_says_of_several_sets_which_one_lacks_a_block_and_which_unit_it_has(
    client: Client,
) -> None:
    body = {
        "unit": "mm",
        "sets": [
            {"id": "M", "composition": "metric-47-a", "grade": "0", "missing": ["1.005"]},
            {"id": "K", "composition": "inch-36", "grade": "0"},
        ],
        "targets": [{"ref": "a", "kind": "length", "length": "50.8"}],
        "exclude": ["M/50", "M/25"],
    }

    text = text_of(printed(client, body, format="sheet-a4"))

    assert "1.005 M" in text
    assert re.search(r"\b2 in new stack", text)


def test_a_sheet_says_which_set_each_block_is_from(client: Client) -> None:
    body = {
        "unit": "mm",
        "sets": [
            {"id": "north hall", "composition": "metric-47-a", "grade": "1"},
            {"id": "K", "composition": "metric-47-a", "grade": "0"},
        ],
        "targets": [
            {"ref": "a", "kind": "length", "length": "200"},
            {"ref": "b", "kind": "length", "length": "201.5"},
        ],
        "timing": "in_turn",
    }

    text = text_of(printed(client, body, format="sheet-a4"))

    assert re.search(r"100 (A \+ 100 K|K \+ 100 A) new stack", text)
    assert re.search(r"keep 100 (A \+ 100 K|K \+ 100 A)", text)
    assert "A = north hall, grade 1 · K, grade 0" in text


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
    "query",
    [
        {"format": "a5"},
        {"media": "svg"},
        {"page": "0"},
        {"page": "x"},
        {"job": "x" * 41},
        {"job": "a\nb"},
    ],
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


CRIB = "https://crib.example/wrung"
LENGTH = {"ref": "10", "kind": "length", "length": "58.975"}
SINE = {"ref": "10", "kind": "sine", "bar": {"centre_distance": "100"}, "angle": "12.5"}


def typed(**members: object) -> dict[str, Any]:
    """What a page can ask."""
    return {
        "unit": "mm",
        "sets": [{"id": "M", "composition": "metric-88-1", "grade": "1", "missing": ["1.005"]}],
        "targets": [LENGTH],
        **members,
    }


def test_a_code_leads_to_the_page_with_the_same_question(start: Start) -> None:
    """Read off a picture of one bit a dot, as a copier makes it."""
    client, body = start(public_url=CRIB), typed()

    image = picture(client, body).convert("1", dither=Image.Dither.NONE)

    address = f"{CRIB}/?unit=mm&set=M~metric-88-1~1&gone=M%2F1.005&want=58.975"
    assert codes_in(image) == [address]
    assert address in text_of(printed(client, body)).replace(" ", "")
    page = client.get(address.removeprefix(CRIB), headers={"Accept": "text/html"})
    assert ">58.975</text>" in page.text


@pytest.mark.parametrize(
    "more",
    [
        {"joint_allowance": "0.01"},
        {"exclude": ["M/50"]},
        {"targets": [{**LENGTH, "ref": "x" * 64}]},
        {"targets": [SINE]},
        {"targets": [{**LENGTH, "ref": f"{n:064}", "length": f"1.{n}"} for n in range(9, 50)]},
    ],
)
def test_what_no_page_can_ask_has_no_code(start: Start, more: dict[str, Any]) -> None:
    """Another question than the card's would be worse than none; a long one does not fit."""
    image = picture(start(public_url=CRIB), typed(**more))

    assert codes_in(image) == []


def test_without_an_address_of_the_service_there_is_no_code(client: Client) -> None:
    assert codes_in(picture(client, traveller(1))) == []


def test_a_card_and_its_record_belong_together(client: Client) -> None:
    record = client.post("/v1/stacks", json=traveller(1, record=True)).json()["record"]

    text = text_of(printed(client, traveller(1, record=True)))

    assert f"record {record['request_sha256'][:16]}" in text


@pytest.mark.parametrize("paper", PAPERS)
def test_the_same_request_gives_the_same_bytes(client: Client, paper: str) -> None:
    both = [
        client.post("/v1/cards", json=traveller(2), params={"format": paper}).content
        for _ in range(2)
    ]

    assert both[0] == both[1]


def test_the_typesetter_leaves_nothing_in_the_memory_of_the_service(client: Client) -> None:
    """It keeps megabytes a card, so it runs elsewhere, and ends."""
    assert printed(client, traveller(2)).pages
    assert "typst" not in sys.modules


def test_more_stacks_than_the_typesetter_has_memory_for_are_refused(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(printing, "MOST_CARDS", 2)
    assert len(printed(client, traveller(2)).pages) == 2
    assert len(printed(client, traveller(3), format="sheet-a4").pages) == 1

    refused = client.post("/v1/cards", json=traveller(3))

    assert refused.status_code == 400
    assert "at most 2" in refused.json()["detail"]


def test_a_typesetter_that_does_not_come_to_its_end_is_a_busy_service(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(typesetting, "PATIENCE_S", 0)
    answer = client.post("/v1/cards", json=traveller(1))
    assert answer.status_code == 503
    assert answer.json()["type"] == "/problems/busy"
    assert int(answer.headers["Retry-After"]) >= 0


@pytest.mark.skipif(sys.platform == "win32", reason="processes there end by no signal")
@pytest.mark.parametrize(
    "program",
    ["", "kill -KILL $$", "kill -TERM $$"],
)
def test_a_machine_without_room_for_the_typesetter_is_a_busy_service(
    client: Client, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, program: str
) -> None:
    """It cannot be started, or is ended from outside, as for want of memory."""
    instead = tmp_path / "typesetter"
    if program:
        instead.write_text(f"#!/bin/sh\n{program}\n", encoding="utf-8")
        instead.chmod(0o700)
    monkeypatch.setattr(sys, "executable", str(instead))
    answer = client.post("/v1/cards", json=traveller(1))
    assert answer.status_code == 503
    assert answer.json()["type"] == "/problems/busy"
    assert int(answer.headers["Retry-After"]) > 0


@pytest.mark.parametrize("language", ["en", "de"])
def test_a_screen_shows_what_stands_on_the_card(client: Client, language: str) -> None:
    body = {**example("between_jaws"), "language": language}

    page = client.post("/v1/cards", json=body, headers={"Accept": "text/html"})

    assert page.headers["content-type"] == "text/html; charset=utf-8"
    assert "script-src 'self'" in page.headers["content-security-policy"]
    assert " style=" not in page.text
    shown = html.unescape(re.sub(r"<svg.*?</svg>|<[^>]+>", " ", page.text, flags=re.DOTALL))
    # Long words say where they may break, which a PDF has no need of.
    assert not {*text_of_card(client, body)} - {*shown.replace("\xad", "").split()}


def text_of_card(client: Client, body: dict[str, Any]) -> list[str]:
    """The words of a card, but for those of its drawing and its marks, and its number."""
    numbers = r"(part|Teil) \d (of|von) \d|(card|Karte) \d / \d"
    text = re.sub(numbers, "", text_of(printed(client, body)))
    drawn = drawing_words(client, body)
    return [word for word in text.split() if word not in {"!", *drawn}]


def drawing_words(client: Client, body: dict[str, Any]) -> set[str]:
    drawing = client.post("/v1/stacks", json=body, headers={"Accept": "image/svg+xml"}).text
    return {word for text in re.findall(r">([^<]*)</text>", drawing) for word in text.split()}


def test_a_sheet_and_a_screen_name_what_has_no_stack(client: Client) -> None:
    body = traveller(2)
    body["targets"][1] = {"ref": "op20", "kind": "length", "length": "0.1"}

    sheet = text_of(printed(client, body, format="sheet-a4"))
    page = client.post("/v1/cards?media=html", json=body).text

    assert "No stack for op20" in sheet
    assert "No stack for op20" in text_of(printed(client, body, format="a6"))
    assert "No stack for</strong> op20" in page


def test_what_is_made_of_angle_blocks_is_not_gone_from_the_paper(client: Client) -> None:
    body = traveller(1)
    wedge = {"ref": "wedge", "kind": "angle_blocks", "angle": "12°30'", "composition": "angle-16"}
    body["targets"].append(wedge)

    said = "Angle blocks, without a card: wedge"
    assert said in text_of(printed(client, body, format="sheet-a4"))
    assert said in text_of(printed(client, body, format="a4"))
    assert said in text_of(printed(client, {**body, "targets": [wedge]}))


def test_every_card_of_a_series_has_cautions(client: Client) -> None:
    """Instructions give them with the first stack only; a card goes to the bench by itself."""
    reader = printed(client, example("check_points"))

    stacks = client.post("/v1/stacks", json=example("check_points")).json()["stacks"]
    assert len(stacks) > 2
    assert text_of(reader).count("!") >= 2 * len(stacks)


def test_one_block_is_nothing_to_wring(client: Client) -> None:
    body = traveller(1)
    body["targets"][0]["length"] = "25"

    assert "One block, nothing to wring. Then" in text_of(printed(client, body))


def test_no_stack_is_no_card_and_says_so(client: Client) -> None:
    body = traveller(1)
    body["targets"][0]["length"] = "0.1"

    assert "no stack" in text_of(printed(client, body))
