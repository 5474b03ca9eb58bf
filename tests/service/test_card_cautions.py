"""Cautions on cards: what follows from the blocks themselves, then what the use asks for."""

from typing import Any

from service.conftest import Client
from service.printed_cards import printed, text_of


def tall(**members: object) -> dict[str, Any]:
    """A stack of five long blocks."""
    sets = [
        {"id": "I", "composition": "inch-81", "grade": "0"},
        {"id": "L", "composition": "inch-long-8", "grade": "0"},
    ]
    target = {"ref": "a", "kind": "length", "length": "31.2347"}
    return {"unit": "in", "sets": sets, "targets": [target], **members}


def test_cautions_of_the_stack_itself_come_before_those_of_its_use(client: Client) -> None:
    text = text_of(printed(client, tall()))

    assert "secure a standing stack against falling" in text
    assert "spindle stopped" in text
    assert text.index("Long blocks are heavy") < text.index("spindle stopped")
    assert text.count("!") >= 2


def test_heavy_and_brittle_leave_room_for_the_use(client: Client) -> None:
    body = tall()
    for each in body["sets"]:
        each["material"] = "zirconia"

    text = text_of(printed(client, body))

    for needed in ("Long blocks are heavy", "glass chip", "spindle stopped"):
        assert needed in text
