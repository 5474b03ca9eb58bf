"""The filled record of an instrument on paper: rows, statements, and the rule they go by."""

import re

import pytest

from service.conftest import Client
from service.every_answer import example
from service.printed_cards import MM, printed, text_of, traveller


@pytest.mark.parametrize(("language", "paper"), [("de", "record-a4"), ("en", "record-letter")])
def test_the_record_of_an_instrument_has_a_line_for_each_point(
    client: Client, language: str, paper: str
) -> None:
    """Each reading with its error, limit, uncertainty and statement; what all comes to."""
    body = {**example("check_points"), "language": language}
    (result,) = client.post("/v1/stacks", json=body).json()["results"]

    reader = printed(client, body, format=paper, job="4471")

    text = text_of(reader).replace(",", ".")
    width, height = {"record-a4": (210, 297), "record-letter": (215.9, 279.4)}[paper]
    assert float(reader.pages[0].mediabox.width) == pytest.approx(width * MM, abs=0.1)
    assert float(reader.pages[0].mediabox.height) == pytest.approx(height * MM, abs=0.1)
    said = {"de": ("bestanden", "Bestanden."), "en": ("pass", "Passed.")}[language]
    assert said[1] in text
    # Nobody can read a statement without its rule (ISO/IEC 17025:2017, 7.8.6, from memory).
    assert {"de": "einfache Annahme", "en": "simple acceptance"}[language] in text
    decimals: set[tuple[int, ...]] = set()
    for row in result["rows"]:
        given = (row["reading"], row["error"], row["permissible_error"])
        # Within a column all have as many decimals.
        cells = " ".join(rf"({re.escape(each)}(?:\.?0*))" for each in given)
        found = re.search(rf"{cells} {said[0]}", text.replace("\N{MINUS SIGN}", "-"))
        assert found is not None, given
        decimals.add(tuple(len(cell.partition(".")[2]) for cell in found.groups()))
    assert len(decimals) == 1


def test_a_record_without_readings_is_a_form_to_fill_in(client: Client) -> None:
    body = example("check_points")
    (target,) = body["targets"]
    body["targets"] = [{**target, "readings": []}]

    text = text_of(printed(client, body, format="record-a4"))

    assert "Not decided" in text
    assert "47.8" in text
    assert "guard band" not in text


def test_a_record_names_its_guard_band(client: Client) -> None:
    body = example("check_points")
    (target,) = body["targets"]
    body["targets"] = [{**target, "guard_multiple": "1"}]

    assert "guard band: 1 U" in text_of(printed(client, body, format="record-a4"))


def test_what_is_no_series_of_check_points_has_no_record(client: Client) -> None:
    body = traveller(1)

    assert "no record" in text_of(printed(client, body, format="record-a4"))
    page = client.post("/v1/cards?media=html", json=body).text
    assert "record-a4" not in page
