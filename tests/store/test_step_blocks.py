"""A step block in a crib: promised once for all its steps, out and back as one."""

import csv
import io
from collections.abc import Iterator
from typing import Any, TypeAlias

import pytest
from litestar.testing import TestClient

from store.planning import QUANTA, asked, blocks, made, refused, replanned
from store.rows import SITE, Clock, add_block, add_site
from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.store.engine import Store

Client: TypeAlias = TestClient[Any]
STEPS = {f"T7/{n}" for n in range(1, 5)}
CRIB = f"/v1/sites/{SITE}"


@pytest.fixture
def client(store: Store, clock: Clock) -> Iterator[Client]:
    """The service with a step block of four steps, and two blocks."""
    with store.writing() as connection:
        add_site(connection)
        for n in range(1, 5):
            add_block(connection, f"T7/{n}", nominal=n * QUANTA, body="T7")
        for n in (10, 20):
            add_block(connection, str(n), nominal=n * QUANTA)
    with TestClient(create_app(Settings(solve_workers=2), store=store, clock=clock)) as client:
        yield client


def test_another_step_is_not_free_while_one_is_promised(client: Client) -> None:
    plan = made(client, asked("13"))

    assert blocks(plan) == [{"10", "T7/3"}]
    assert {each["block"] for each in plan["promises"]} == {"10", *STEPS}
    # Neither from the whole crib nor from what is left of it without that step.
    for crib in ({}, {"leave_out": ["T7/3"]}):
        body = asked("24")
        body["crib"] |= crib
        assert refused(client, body, "blocks-taken")
    later = made(client, asked("24", start=1, end=2))
    assert blocks(later) == [{"20", "T7/4"}]


def test_it_goes_out_and_comes_back_as_one(client: Client) -> None:
    plan = made(client, asked("13"))

    out = client.post(f"{CRIB}/issues", json={"blocks": ["10", "T7/3"]})

    assert out.status_code == 200, out.text
    assert {each["plan"] for each in out.json()["loans"]} == {plan["id"]}
    assert {each["block"] for each in out.json()["loans"]} == {"10", *STEPS}
    again = client.post(f"{CRIB}/issues", json={"blocks": ["T7/1"], "borrower": "Ida"})
    assert again.status_code == 409
    back = {"blocks": [{"id": "T7/3", "condition": "damaged", "reason": "a nick"}]}
    answer = client.post(f"{CRIB}/returns", json=back).json()
    assert {each["id"]: each["condition"] for each in answer["blocks"]} == {
        "T7/3": "damaged",
        **dict.fromkeys(STEPS - {"T7/3"}, "fit"),
    }
    # The body was out once, so each of its steps counts a use.
    assert {each["uses"] for each in answer["blocks"]} == {1}


def test_it_is_missed_as_one_and_found_as_one(client: Client) -> None:
    for condition in ("missing", "fit"):
        body = {"blocks": ["T7/2"], "condition": condition}
        found = client.post(f"{CRIB}/condition-changes", json=body).json()["blocks"]
        assert {each["id"]: each["condition"] for each in found} == dict.fromkeys(STEPS, condition)


def test_a_plan_is_at_risk_for_the_step_that_it_uses(client: Client) -> None:
    plan = made(client, asked("13"))

    def risks(step: str) -> list[str]:
        body = {"blocks": [step], "condition": "damaged", "reason": "a nick"}
        answer = client.post(f"{CRIB}/condition-changes", json=body).json()
        return [each["plan"] for each in answer["at_risk"]]

    assert risks("T7/1") == []
    assert risks("T7/3") == [plan["id"]]
    anew = client.post(f"/v1/plans/{plan['id']}/replan", json={})
    # 13 mm is 10 mm and a step of 3 mm, and there is no other.
    assert anew.status_code == 409


def test_a_stack_planned_anew_has_one_step(client: Client) -> None:
    """20 and 4 in place of what was damaged; 1 and 3 would be two steps of one body."""
    client.put(f"{CRIB}/blocks/4", json={"id": "4", "nominal": "4", "grade": "1"})
    plan = made(client, asked("24"))
    (own,) = blocks(plan)
    other = replanned(client, plan, blocks=sorted(own - {"20"}))

    assert blocks(other) == [{"20", "4" if "T7/4" in own else "T7/4"}]


def test_a_csv_brings_step_blocks_in_and_out(client: Client) -> None:
    text = "id,nominal,grade,body\nS1/5,5,1,S1\nS1/6,6,1,S1\n"
    headers = {"Content-Type": "text/csv"}
    report = client.post(f"{CRIB}/inventory-imports", content=text, headers=headers)
    assert report.json()["added"] == 2, report.text

    table = client.get(f"{CRIB}/inventory", headers={"Accept": "text/csv"}).text

    bodies = {row["id"]: row["body"] for row in csv.DictReader(io.StringIO(table))}
    assert (bodies["S1/5"], bodies["T7/1"], bodies["10"]) == ("S1", "T7", "")
    again = client.post(f"{CRIB}/inventory-imports", content=table, headers=headers).json()
    assert (again["added"], again["changed"]) == (0, 0)
    assert client.get(f"{CRIB}/blocks/S1/5").json()["body"] == "S1"
    page = client.get(f"/crib/{SITE}/blocks/S1%2F5", headers={"Accept": "text/html"}).text
    assert "<dt>step block</dt><dd>S1</dd>" in page
    shelf = client.get(f"{CRIB}/inventory").json()
    assert client.post(f"{CRIB}/inventory-imports", json=shelf).json()["changed"] == 0


def test_two_steps_of_one_length_are_refused(client: Client) -> None:
    twice = client.put(
        f"{CRIB}/blocks/more", json={"id": "more", "nominal": "3", "grade": "1", "body": "T7"}
    )
    assert twice.status_code == 409, twice.text
    assert "two steps of 3 mm" in twice.json()["detail"]
    worn = {"id": "w", "nominal": "7", "grade": "1", "body": "T7", "role": "wear"}
    assert client.put(f"{CRIB}/blocks/w", json=worn).status_code == 422


def conditions(client: Client) -> dict[str, str]:
    """Those of the steps."""
    found = {n: client.get(f"{CRIB}/blocks/T7%2F{n}").json()["condition"] for n in range(1, 5)}
    return {f"T7/{n}": condition for n, condition in found.items()}


def in_condition(client: Client, step: str, condition: str) -> None:
    body = {"blocks": [step], "condition": condition}
    answer = client.post(f"{CRIB}/condition-changes", json=body)
    assert answer.status_code == 200, answer.text


def test_a_retired_step_stays_so_while_its_step_block_is_away_and_back(client: Client) -> None:
    in_condition(client, "T7/2", "retired")
    in_condition(client, "T7/3", "damaged")
    for condition in ("at_calibration", "fit"):
        in_condition(client, "T7/1", condition)

        assert conditions(client) == {
            "T7/1": condition,
            "T7/4": condition,
            "T7/2": "retired",
            "T7/3": "damaged",
        }


@pytest.mark.parametrize("query", ["", "?preview=true"])
def test_no_import_says_that_a_part_of_a_step_block_is_away(client: Client, query: str) -> None:
    """Nor that it has two steps of one length, and a preview says so, too."""
    headers = {"Content-Type": "text/csv", "Accept-Language": "de"}
    for text, said in (
        ("id,condition\nT7/2,missing\n", "hätte brauchbare Stufen neben solchen, die fehlen"),
        ("id,nominal,grade,body\nmore,3,1,T7\n", "hat zwei Stufen von 3 mm"),
    ):
        answer = client.post(f"{CRIB}/inventory-imports{query}", content=text, headers=headers)
        assert answer.status_code == 409, answer.text
        assert said in answer.json()["detail"]
    whole = "id,condition\n" + "".join(f"{step},missing\n" for step in sorted(STEPS))
    answer = client.post(f"{CRIB}/inventory-imports{query}", content=whole, headers=headers)
    assert answer.json()["changed"] == len(STEPS)


def test_a_step_that_was_not_lent_is_missed_with_its_step_block(client: Client) -> None:
    """It came to the step block after the plan was made."""
    plan = made(client, asked("13"))
    client.put(
        f"{CRIB}/blocks/T7%2F9", json={"id": "T7/9", "nominal": "9", "grade": "1", "body": "T7"}
    )
    issue = {"blocks": ["T7/3"], "plan": plan["id"]}
    assert len(client.post(f"{CRIB}/issues", json=issue).json()["loans"]) == len(STEPS)

    back = {"blocks": [{"id": "T7/3", "condition": "missing"}]}
    answer = client.post(f"{CRIB}/returns", json=back).json()

    assert {each["id"]: each["condition"] for each in answer["blocks"]} == dict.fromkeys(
        {*STEPS, "T7/9"}, "missing"
    )


def test_a_step_block_does_not_come_back_in_part(client: Client) -> None:
    made(client, asked("13"))
    client.post(f"{CRIB}/issues", json={"blocks": ["10", "T7/3"]})
    back = [{"id": "T7/3", "condition": "fit"}, {"id": "T7/1", "condition": "missing"}]

    answer = client.post(f"{CRIB}/returns", json={"blocks": back})

    assert answer.status_code == 409, answer.text
    assert client.get(f"{CRIB}/blocks/T7%2F3").json()["out"] is not None
    back[1]["condition"] = "damaged"
    assert client.post(f"{CRIB}/returns", json={"blocks": back}).status_code == 200


def test_what_is_said_of_a_step_while_its_step_block_is_away(client: Client) -> None:
    """That it is damaged is its own; where one is fit, the step block is there."""
    in_condition(client, "T7/3", "retired")
    in_condition(client, "T7/1", "at_calibration")

    in_condition(client, "T7/2", "damaged")
    away = dict.fromkeys(("T7/1", "T7/4"), "at_calibration")
    assert conditions(client) == {**away, "T7/2": "damaged", "T7/3": "retired"}
    in_condition(client, "T7/3", "fit")
    assert conditions(client) == {**dict.fromkeys(STEPS, "fit"), "T7/2": "damaged"}


@pytest.mark.parametrize("unfit", ["damaged", "retired"])
def test_a_step_that_becomes_fit_again_is_promised_with_the_others(
    client: Client, unfit: str
) -> None:
    """And one that is no longer fit still says that its step block is promised."""
    in_condition(client, "T7/4", unfit)
    plan = made(client, asked("13"))
    assert {each["block"] for each in plan["promises"]} == {"10", *STEPS}

    in_condition(client, "T7/4", "fit")
    for step in ("T7/1", "T7/2", "T7/3"):
        in_condition(client, step, unfit)

    assert refused(client, asked("24"), "blocks-taken")
