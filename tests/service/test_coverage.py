"""``POST /v1/coverage``: what an inventory covers."""

import xml.etree.ElementTree as ET
from typing import Any

import pytest
from msgspec.structs import replace

from service.bodies import Json, pointers, problem_name
from service.conftest import Client, LogBook, Start
from wrung import Coverage, coverage_of
from wrung_service.usecases import survey_coverage

CRIB = {"id": "crib-81", "composition": "inch-81", "grade": "AS-1", "missing": ["0.1004"]}


def body(**members: object) -> Json:
    """Blocks of 1, 2 and 4 mm, asked for every half millimetre."""
    return {
        "unit": "mm",
        "blocks": [{"id": f"b{n}", "nominal": n, "grade": "0"} for n in ("1", "2", "4")],
        "range": {"start": "1", "stop": "9", "step": "0.5"},
        **members,
    }


def survey(client: Client, **members: object) -> dict[str, Any]:
    response = client.post("/v1/coverage", json=body(**members))
    assert response.status_code == 200, response.text
    return dict(response.json())


def test_what_can_be_built_in_runs_and_by_blocks(client: Client) -> None:
    found = survey(client, max_gaps=2)

    assert (found["outcome"], found["max_blocks"]) == ("complete", 250)
    assert found["range"] == {"start": "1", "stop": "9", "step": "0.5", "length_count": 17}
    buildable = found["buildable"]
    assert (buildable["length_count"], buildable["share"]) == (7, 0.411764)
    needed = {each["block_count"]: each["length_count"] for each in buildable["by_block_count"]}
    assert needed == {1: 3, 2: 3, 3: 1}
    first = {
        "first": "1",
        "last": "1",
        "length_count": 1,
        "buildable": True,
        "max_blocks_needed": 1,
    }
    assert buildable["runs"][0] == first
    assert (buildable["run_count"], buildable["gap_count"]) == (14, 7)
    assert buildable["gaps"] == [
        {"first": "7.5", "last": "9", "length_count": 4},
        {"first": "1.5", "last": "1.5", "length_count": 1},
    ]


def test_the_last_length_is_on_the_grid(client: Client) -> None:
    found = survey(client, range={"start": 1, "stop": "2.9", "step": 0.50})

    assert found["range"] == {"start": "1", "stop": "2.5", "step": "0.5", "length_count": 4}


def test_what_is_lost_without_each_block(client: Client) -> None:
    """Each is in four of the seven lengths, and none can do for another."""
    found = survey(client)

    assert found["losses"] == [
        {"id": name, "lengths_lost": 4, "lengths_with_more_blocks": 0}
        for name in ("b1", "b2", "b4")
    ]


def test_what_to_buy_of_what_is_offered(client: Client) -> None:
    """0.5 mm doubles what can be built; 3 mm with it fills the range, and is less than 8 mm."""
    offers = {"blocks": [{"nominal": n} for n in ("3", "0.5", "8")]}

    found = survey(client, offers=offers)["additions"]

    half = found["single_blocks"][0]["blocks"][0]
    assert (half["nominal"], half["unit"], half["role"]) == ("0.5", "mm", "gauge")
    assert found["blocks_compared"] == 3
    assert found["single_blocks"][0]["lengths_gained"] == 7
    assert {block["nominal"] for block in found["best_pair"]["blocks"]} == {"0.5", "3"}
    assert (found["best_pair"]["lengths_gained"], found["best_pair_proven"]) == (10, True)


def test_a_whole_composition_may_be_offered(client: Client) -> None:
    found = survey(client, offers={"compositions": ["metric-18"], "blocks": [{"nominal": "3"}]})

    assert found["additions"]["blocks_compared"] == 19


def test_a_depleted_set_wants_its_block_back(client: Client) -> None:
    """What is offered if nobody says is what the set lacks, and one more of each it has."""
    found = survey(
        client,
        unit="in",
        blocks=[],
        sets=[CRIB],
        range={"start": "0.2", "stop": "1", "step": "0.0001"},
        max_blocks=4,
    )

    (best, *_) = found["additions"]["single_blocks"]
    (block,) = best["blocks"]
    assert (block["nominal"], block["unit"], block["role"]) == ("0.1004", "in", "gauge")
    assert "inch-81" in block["compositions"]
    assert (
        best["lengths_gained"]
        == found["range"]["length_count"] - found["buildable"]["length_count"]
    )
    assert found["additions"]["blocks_compared"] == 78  # those longer than the range are of no use


def test_wear_blocks_at_both_ends(client: Client) -> None:
    wear = [{"id": f"w{n}", "nominal": "2", "grade": "0", "role": "wear"} for n in (1, 2)]
    blocks = [*body()["blocks"], *wear]

    found = survey(client, blocks=blocks, wear_blocks="both", max_blocks=3)

    assert [run["first"] for run in found["buildable"]["runs"] if run["buildable"]] == [
        "4", "5", "6", "8",
    ]  # fmt: skip
    losses = {loss["id"]: loss["lengths_lost"] for loss in found["losses"]}
    assert losses == {"b1": 1, "b2": 1, "b4": 1, "w1": 4, "w2": 4}


def test_blocks_left_out_by_name(client: Client) -> None:
    sets = [{"id": "s", "composition": "metric-46", "grade": "1"}]

    found = survey(
        client, sets=sets, exclude=["b1", "s/1.30"], only=["b1", "b2", "s/1.30", "s/5.0"]
    )

    assert {loss["id"] for loss in found["losses"]} == {"b2", "s/5"}


def test_overdue_blocks_are_left_out_and_told(client: Client) -> None:
    due = {"due_on": "2026-01-01"}
    blocks = [*body()["blocks"], {"id": "old", "nominal": "8", "grade": "0", "calibration": due}]

    found = survey(client, blocks=blocks, used_on="2026-02-01")
    allowed = survey(client, blocks=blocks, used_on="2026-02-01", allow_overdue=True)

    assert found["overdue_blocks"] == [{"id": "old", "due_on": "2026-01-01"}]
    assert found["used_on"] == "2026-02-01"
    assert found["buildable"]["length_count"] == 7
    assert (allowed["overdue_blocks"], allowed["buildable"]["length_count"]) == ([], 9)


def test_the_drawing_is_svg_in_the_wanted_language(client: Client) -> None:
    drawn = survey(client, picture=True, language="de")["picture"]

    drawing = ET.fromstring(drawn)  # noqa: S314 - our own text
    assert drawing.tag == "{http://www.w3.org/2000/svg}svg"
    assert "7 von 17 Längen lassen sich bilden" in drawn
    assert "<script" not in drawn
    assert survey(client)["picture"] is None


def test_a_log_line_tells_how_it_went(start: Start, log_book: LogBook) -> None:
    client = start()

    survey(client)

    (line,) = [line for line in log_book.lines() if line["route"] == "/v1/coverage"]
    assert (line["outcome"], line["blocks"]) == ("complete", 3)
    assert line["solve_ms"] >= 0


def test_a_wrong_answer_is_held_back(start: Start, monkeypatch: pytest.MonkeyPatch) -> None:
    """As every answer of the service, it is worked out again before it leaves."""

    def wrong(*arguments: Any, **options: Any) -> Coverage:  # noqa: ANN401 - handed on
        found = coverage_of(*arguments, **options)
        assert found.reach
        return replace(
            found, reach=replace(found.reach, buildable_count=found.reach.buildable_count - 1)
        )

    monkeypatch.setattr(survey_coverage, "coverage_of", wrong)

    response = start().post("/v1/coverage", json=body())

    assert response.status_code == 500
    assert problem_name(response) == "answer-check-failed"


def test_a_survey_that_is_out_of_time_says_so(client: Client) -> None:
    """A whole inch and a whole metric set, on steps of 20 nm: seconds of work."""
    sets = [CRIB, {"id": "m", "composition": "metric-112", "grade": "1"}]

    response = client.post(
        "/v1/coverage",
        json=body(
            sets=sets, range={"start": "1", "stop": "150", "step": "0.001"}, time_limit_ms=50
        ),
    )

    assert response.status_code in (200, 503)
    if response.status_code == 200:
        found = response.json()
        assert found["outcome"] in ("unknown", "partial")
        assert found["additions"] is None or not found["additions"]["best_pair_proven"]


@pytest.mark.parametrize(
    ("members", "pointer"),
    [
        ({"range": {"start": "0", "stop": "9", "step": "1"}}, "/range/start"),
        ({"range": {"start": "2", "stop": "1", "step": "1"}}, "/range/stop"),
        ({"range": {"start": "1", "stop": "9", "step": "0"}}, "/range/step"),
        ({"range": {"start": "1", "stop": "9000", "step": "0.0001"}}, "/range/step"),
        ({"range": {"start": "1", "stop": "9", "step": "0.0000000001"}}, "/range/step"),
        ({"exclude": ["b7"]}, "/exclude/0"),
        ({"only": ["b1", "b7"]}, "/only/1"),
        ({"language": "tlh"}, "/language"),
        ({"used_on": "2026-02-31"}, "/used_on"),
        ({"offers": {"blocks": [{"nominal": "1"}, {"nominal": "0"}]}}, "/offers/blocks/1/nominal"),
        ({"offers": {"compositions": ["metric-7"]}}, "/offers/compositions/0"),
        (
            {"offers": {"blocks": [{"nominal": "1"}] * 990, "compositions": ["metric-18"]}},
            "/offers",
        ),
        ({"blocks": [{"id": "a", "nominal": "1"}]}, "/blocks/0"),
        (
            {
                "blocks": [*body()["blocks"], {"id": "odd", "nominal": "5.00000001", "grade": "0"}],
                "range": {"start": "1", "stop": "100", "step": "1"},
                "offers": {"blocks": [{"nominal": "100"}]},
            },
            "/blocks/3",
        ),
        (
            {
                "range": {"start": "1", "stop": "100", "step": "1"},
                "offers": {"blocks": [{"nominal": "80.00000001"}, {"nominal": "100"}]},
            },
            "/offers/blocks/0",
        ),
    ],
)
def test_what_makes_no_sense_is_pointed_at(client: Client, members: Json, pointer: str) -> None:
    response = client.post("/v1/coverage", json=body(**members))

    assert response.status_code == 422, response.text
    assert problem_name(response) == "unprocessable-content"
    assert pointers(response) == [pointer]


@pytest.mark.parametrize(
    ("members", "pointer"),
    [
        ({"range": {"start": "1", "stop": "9"}}, "/range/step"),
        ({"max_blocks": 0}, "/max_blocks"),
        ({"max_gaps": 10_001}, "/max_gaps"),
        ({"wear_blocks": "three"}, "/wear_blocks"),
        ({"offers": {"lengths": []}}, "/offers/lengths"),
        ({"time_limit_ms": 60_001}, "/time_limit_ms"),
        ({"pictures": True}, "/pictures"),
    ],
)
def test_what_breaks_the_schema_is_pointed_at(client: Client, members: Json, pointer: str) -> None:
    response = client.post("/v1/coverage", json=body(**members))

    assert response.status_code == 400, response.text
    assert pointers(response) == [pointer]
