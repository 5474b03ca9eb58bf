"""Stacks as drawings over HTTP: of an answer, and of a plan at an address of its own."""

import xml.etree.ElementTree as ET

from service.conftest import Client
from service.every_answer import Json, example
from svg_texts import misplaced

SVG = {"Accept": "image/svg+xml"}


def texts(drawing: str) -> list[str]:
    root = ET.fromstring(drawing)  # noqa: S314 -- our own text
    return [each.text or "" for each in root.iter("{http://www.w3.org/2000/svg}text")]


def test_an_answer_can_be_drawings_with_what_is_missing_named(client: Client) -> None:
    body: Json = {
        "unit": "mm",
        "sets": [{"id": "M", "composition": "metric-47-a", "grade": "1"}],
        "targets": [
            {"ref": "op10 <stop>", "kind": "length", "length": "31.445"},
            {"ref": "op20", "kind": "length", "length": "31.4455"},
        ],
    }

    answer = client.post("/v1/stacks", json=body, headers=SVG)

    assert answer.headers["content-type"] == "image/svg+xml"
    said = texts(answer.text)
    assert [said.index(each) for each in ("op10 <stop>", "op20", "no stack")] == sorted(
        said.index(each) for each in ("op10 <stop>", "op20", "no stack")
    )
    assert {"31.445", "0.000"} <= set(said)
    (stack,) = client.post("/v1/stacks", json=body).json()["stacks"]
    assert {block["nominal"] for block in stack["blocks"]} <= set(said)


def test_drawings_speak_the_language_of_the_request(client: Client) -> None:
    body = {**example("fit"), "language": "de"}

    said = texts(client.post("/v1/stacks", json=body, headers=SVG).text)

    assert {"Folge", "Aufschrift", "Rest"} <= set(said)


def test_every_kind_with_stacks_of_gauge_blocks_can_be_drawn(client: Client) -> None:
    for kind in ("limits", "sine", "check_points", "between_jaws", "dovetail"):
        drawing = client.post("/v1/stacks", json=example(kind), headers=SVG).text
        for part in ET.fromstring(drawing).iter("{http://www.w3.org/2000/svg}svg"):  # noqa: S314 -- ours
            if part.get("role") == "img":
                assert not misplaced(part)
