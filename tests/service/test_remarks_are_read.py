"""Remarks and results of an answer, where people read them: cards, sheets, pages, a terminal."""

from typing import Any, Final

from service.bench_pages import SHELF, look
from service.conftest import Client, Run
from service.printed_cards import printed, text_of

FROM_MEMORY = "The limits of the grades are from memory"

INCH: Final[dict[str, Any]] = {
    "unit": "in",
    "sets": [{"id": "crib", "composition": "inch-81", "grade": "AS-1"}],
    "targets": [{"ref": f"op{n}", "kind": "length", "length": f"0.{n}4"} for n in (10, 20, 30)],
}
"""Blocks of a grade whose limits were not compared with print."""


def steep(**members: object) -> dict[str, Any]:
    """An angle that a remark advises against, on a block that is outside its grade."""
    bar = {"centre_distance": "100"}
    certified = {"deviation": "2", "expanded_uncertainty": "0.1", "grade": "0"}
    return {
        "unit": "mm",
        "sets": [*INCH["sets"]],
        "blocks": [{"id": "long", "nominal": "86.6025", **certified}],
        "targets": [{"ref": "wedge", "kind": "sine", "bar": bar, "angle": "60", "step": "0.0005"}],
        **members,
    }


def remarks(answer: dict[str, Any]) -> list[str]:
    """The sentences of an answer on its stacks and results."""
    told = [*answer["stacks"], *answer["results"]]
    return [each["text"] for one in told for each in one.get("remarks", ())]


def test_a_card_has_the_remarks_on_its_stack_and_target(client: Client) -> None:
    said = remarks(client.post("/v1/stacks", json=steep()).json())

    text = text_of(printed(client, steep()))

    assert any("outside its grade" in each for each in said)
    assert any("45 degrees" in each for each in said)
    assert all(f"note {each}" in text for each in said)


def test_only_what_rests_on_a_grade_says_where_its_limits_are_from(client: Client) -> None:
    targets = [*steep()["targets"], {"ref": "op", "kind": "length", "length": "25.4"}]
    certified, graded = printed(client, steep(targets=targets)).pages

    assert FROM_MEMORY not in certified.extract_text()
    assert FROM_MEMORY in " ".join(graded.extract_text().split())


def test_a_sheet_has_each_remark_once_and_says_whose_it_is(client: Client) -> None:
    lengths = [{"ref": f"op{n}", "kind": "length", "length": f"{n * 2.54:.4f}"} for n in (1, 2)]
    targets = [*steep()["targets"], *lengths]

    text = text_of(printed(client, steep(targets=targets), format="sheet-a4"))

    assert text.count(FROM_MEMORY) == 1
    assert f"note op1, op2: {FROM_MEMORY}" in text
    assert "note wedge: Above 45 degrees" in text


def test_remarks_leave_a_usual_card_on_its_page(client: Client) -> None:
    assert len(printed(client, INCH).pages) == 3


def test_pages_show_remarks(client: Client) -> None:
    html = {"Accept": "text/html"}
    card = client.post("/v1/cards", json=INCH, headers=html).text
    bench = look(client, *SHELF, ("want", "1 3/8")).texts

    assert FROM_MEMORY in card
    assert any("rest on limits that are from memory" in each for each in bench)


def test_a_terminal_has_remarks_and_results(client: Client, run: Run) -> None:
    answer = client.post("/v1/stacks", json=steep()).json()

    _, told, _ = run("solve", sent=steep())

    assert all(f"Note: {each}" in told for each in remarks(answer))
    reached = answer["results"][0]["setting"]["angle_reached"]["dms"]
    assert "wedge, sine bar\n  angle to set: 60°00'00.0\"" in told
    assert f"angle reached: {reached}" in told


def test_a_stack_that_was_checked_by_hand_has_its_remarks(run: Run) -> None:
    asked = {"unit": "in", "sets": INCH["sets"], "stack": ["crib/1"], "length": "1"}

    _, told, _ = run("check", sent=asked)

    assert "  Note: Errors of blocks without a certificate rest on limits" in told
