"""Square blocks: what is said of them reaches the crib, its CSV, answers and handwork."""

import pytest

from service.bodies import Json
from service.conftest import Client


def request(*sections: str | None) -> Json:
    """A stack of 9 in, of a block of 5 in and one of 4 in."""
    blocks = [
        {"id": nominal, "nominal": nominal, "limit_deviation": "50", "section": section}
        for nominal, section in zip(("5", "4"), sections, strict=True)
    ]
    targets = [{"ref": "a", "kind": "length", "length": "9"}]
    return {"unit": "in", "blocks": blocks, "targets": targets, "handwork": True}


@pytest.mark.parametrize(
    ("sections", "held"),
    [
        (("square", "square"), "through the holes"),
        (("square", "rectangular"), "clamps"),
        (("rectangular", "rectangular"), "clamps"),
        (("square", None), "clamps"),
    ],
)
def test_a_tie_rod_needs_a_hole_in_every_block(
    client: Client, sections: tuple[str | None, str | None], held: str
) -> None:
    answer = client.post("/v1/stacks", json=request(*sections)).json()

    said = " ".join(step["text"] for step in answer["handwork"][0]["steps"])
    assert held in said
    shown = [block.get("section") for block in answer["stacks"][0]["blocks"]]
    assert shown == [each if each == "square" else None for each in sections]


def test_another_section_is_refused(client: Client) -> None:
    response = client.post("/v1/stacks", json=request("round", "square"))

    assert response.status_code == 400
    assert response.json()["errors"][0]["pointer"] == "/blocks/0/section"
