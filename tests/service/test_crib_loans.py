"""Blocks go out and come back, over HTTP, on both databases."""

from collections.abc import Iterator
from typing import Any, TypeAlias

import pytest
import sqlalchemy as sa
from httpx import Response
from litestar.testing import TestClient

from store.rows import Clock, add_plan, add_promise, add_site, hours
from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.store.engine import Store
from wrung_service.store.tables import history, loan

Client: TypeAlias = TestClient[Any]

HALL = "/v1/sites/north-hall"


@pytest.fixture
def client(store: Store, clock: Clock) -> Iterator[Client]:
    """A site with blocks a, b and c; a plan now has a and b, another has a from hour 2 to 3."""
    with store.writing() as c:
        add_site(c, "north-hall", "a", "b", "c")
        add_plan(c, "first", job="1", pause_s=600)
        add_plan(c, "second", job="2", starts_at=hours(2), ends_at=hours(3))
        add_promise(c, "first", "a", (0, 1))
        add_promise(c, "first", "b", (0, 1))
        add_promise(c, "second", "a", (2, 3))
    app = create_app(Settings(solve_workers=2), store=store, clock=clock)
    with TestClient(app) as client:
        yield client


def issue(client: Client, *blocks: str, **members: str) -> Response:
    return client.post(f"{HALL}/issues", json={"blocks": blocks, **members})


def give_back(client: Client, block: str, **members: str) -> Response:
    return client.post(f"{HALL}/returns", json={"blocks": [{"id": block, **members}]})


class TestIssue:
    def test_a_scan_finds_the_plan_and_when_its_blocks_are_due(self, client: Client) -> None:
        loans = issue(client, "a", "b").json()["loans"]

        assert [each["plan"] for each in loans] == ["first", "first"]
        # Ten minutes before the promise ends: the pause is not for use.
        assert {each["due_at"] for each in loans} == {"2027-03-01T08:50:00Z"}
        out = client.get(f"{HALL}/blocks?out=true").json()["blocks"]
        assert [each["id"] for each in out] == ["a", "b"]
        assert out[0]["out"]["plan"] == "first"
        assert out[0]["version"] == 2

    def test_a_block_goes_out_once(self, client: Client) -> None:
        issue(client, "a")

        again = issue(client, "b", "a")

        assert again.status_code == 409
        assert again.json()["detail"] == "The block 'a' is out already, for the job '1'."
        assert client.get(f"{HALL}/blocks/b").json()["out"] is None

    def test_who_has_a_block_is_said_where_it_is_known(self, client: Client) -> None:
        issue(client, "c", borrower="Kim")
        german = client.post(
            f"{HALL}/issues", json={"blocks": ["c"]}, headers={"Accept-Language": "de"}
        )

        assert issue(client, "c").json()["detail"] == "The block 'c' is out already, to 'Kim'."
        assert german.json()["detail"] == "Das Endmaß 'c' ist schon ausgegeben, an 'Kim'."
        give_back(client, "c")
        issue(client, "c")
        assert issue(client, "c").json()["detail"] == "The block 'c' is out already."

    def test_a_promised_block_does_not_go_to_others(self, client: Client) -> None:
        now = issue(client, "a", borrower="Kim")
        too_long = issue(client, "a", plan="first", due_at="2027-03-01T10:30:00Z")

        for refused, plan in ((now, "first"), (too_long, "second")):
            assert refused.status_code == 409
            assert refused.json()["type"] == "/problems/blocks-taken"
            assert refused.json()["taken"][0]["plan"] == plan
        other = issue(client, "c", plan="first")
        assert (other.status_code, other.json()["type"]) == (409, "/problems/conflict")

    def test_a_borrower_has_it_until_it_is_needed(self, client: Client, clock: Clock) -> None:
        clock.now = hours(1.5)

        (promised,) = issue(client, "a", borrower="Kim").json()["loans"]
        (free,) = issue(client, "c", borrower="Kim").json()["loans"]

        assert (promised["plan"], promised["due_at"]) == (None, "2027-03-01T10:00:00Z")
        assert (free["borrower"], free["due_at"]) == ("Kim", None)

    def test_what_is_not_fit_stays(self, client: Client) -> None:
        body = {"blocks": ["c"], "condition": "at_calibration"}
        assert client.post(f"{HALL}/condition-changes", json=body).status_code == 200

        assert issue(client, "c").status_code == 409

    def test_what_is_wrong_is_pointed_to(self, client: Client) -> None:
        def pointers(answer: Response) -> list[str]:
            assert answer.status_code == 422, answer.text
            return [each["pointer"] for each in answer.json()["errors"]]

        assert pointers(issue(client, "a", "x")) == ["/blocks/1"]
        assert pointers(issue(client, "a", "a")) == ["/blocks/1"]
        assert pointers(issue(client, "a", due_at="2027-02-28T08:00:00Z")) == ["/due_at"]
        assert pointers(issue(client, "a", due_at="2027-02-31T08:00:00Z")) == ["/due_at"]
        assert pointers(give_back(client, "x")) == ["/blocks/0/id"]
        assert client.post("/v1/sites/x/issues", json={"blocks": ["a"]}).status_code == 404


class TestReturn:
    def test_use_counts_as_wear(self, client: Client, clock: Clock) -> None:
        issue(client, "a")
        clock.now = hours(0.75)

        (block,) = give_back(client, "a").json()["blocks"]

        assert (block["uses"], block["minutes_out"], block["condition"]) == (1, 45, "fit")
        assert block["out"] is None
        assert client.get(f"{HALL}/blocks/a").json() == block
        (loan,) = client.get(f"{HALL}/loans?block=a").json()["loans"]
        assert loan["returned_at"] == "2027-03-01T08:45:00Z"
        assert give_back(client, "a").status_code == 409

    @pytest.mark.parametrize("condition", ["damaged", "missing"])
    def test_a_block_that_is_lost_puts_plans_at_risk(
        self, client: Client, clock: Clock, condition: str
    ) -> None:
        issue(client, "a")
        clock.now = hours(1)

        answer = give_back(client, "a", condition=condition, reason="dropped").json()

        (risk,) = answer["at_risk"]
        assert (risk["plan"], risk["block"], risk["reason"]) == ("second", "a", condition)
        assert risk["replan"] == "/v1/plans/second/replan"
        assert answer["blocks"][0]["condition_reason"] == "dropped"
        assert client.get(f"{HALL}/risks").json() == {"at_risk": [risk]}

    def test_late_ones_are_listed(self, client: Client, clock: Clock) -> None:
        issue(client, "a", "b")
        issue(client, "c", borrower="Kim")
        give_back(client, "b")
        clock.now = hours(0.9)

        late = client.get(f"{HALL}/loans?late=true").json()["loans"]

        assert [each["block"] for each in late] == ["a"]
        blocks = client.get(f"{HALL}/blocks?late=true").json()["blocks"]
        assert [each["id"] for each in blocks] == ["a"]

    def test_loans_come_in_pages(self, client: Client) -> None:
        issue(client, "a", "b")
        issue(client, "c")

        first = client.get(f"{HALL}/loans?limit=2&out=true")
        second = client.get(first.links["next"]["url"])

        pages = (first.json()["loans"], second.json()["loans"])
        assert [[each["block"] for each in page] for page in pages] == [["a", "b"], ["c"]]
        for query in ("cursor=x", "plan=%00", f"block={'x' * 129}", "late=1"):
            assert client.get(f"{HALL}/loans?{query}").status_code == 400


class TestConditions:
    def change(self, client: Client, condition: str, *blocks: str) -> Any:  # noqa: ANN401 - JSON
        body = {"blocks": blocks, "condition": condition, "reason": "seen at the bench"}
        answer = client.post(f"{HALL}/condition-changes", json=body)
        assert answer.status_code == 200, answer.text
        return answer.json()

    def test_every_future_plan_is_marked_until_it_is_fit_again(self, client: Client) -> None:
        marked = self.change(client, "damaged", "a", "c")

        assert [each["plan"] for each in marked["at_risk"]] == ["first", "second"]
        assert self.change(client, "damaged", "a")["at_risk"] == marked["at_risk"]
        assert self.change(client, "fit", "a")["at_risk"] == []
        assert client.get(f"{HALL}/risks").json() == {"at_risk": []}

    def test_since_when_is_kept_while_only_the_reason_changes(
        self, client: Client, clock: Clock
    ) -> None:
        self.change(client, "damaged", "c")
        clock.now = hours(5)
        body = {"blocks": ["c"], "condition": "damaged", "reason": "a burr"}

        (block,) = client.post(f"{HALL}/condition-changes", json=body).json()["blocks"]

        assert block["condition_since"] == "2027-03-01T08:00:00Z"
        assert block["condition_reason"] == "a burr"

    def test_a_change_of_the_block_itself_marks_plans_as_well(self, client: Client) -> None:
        body = {"id": "a", "nominal": "1", "grade": "1", "condition": "retired"}
        put = client.put(f"{HALL}/blocks/a", json=body, headers={"If-Match": "*"})

        assert put.status_code == 200, put.text
        assert len(client.get(f"{HALL}/risks").json()["at_risk"]) == 2


def test_history_says_who_did_what_and_why(client: Client, store: Store, clock: Clock) -> None:
    """In the transaction of the change, each entry with the hash of the one before it."""
    issue(client, "a")
    clock.now = hours(1)
    give_back(client, "a", condition="damaged", reason="dropped")

    with store.reading() as c:
        rows = c.execute(sa.select(history).order_by(history.c.number)).all()

    told = [(row.what, row.subject, row.job, row.why, row.who) for row in rows]
    assert told == [
        ("block.issued", "a", "1", None, "anybody"),
        ("block.returned", "a", "1", "dropped", "anybody"),
        ("plan.at_risk", "second", "2", None, "anybody"),
    ]
    assert [row.previous for row in rows[1:]] == [row.hash for row in rows[:-1]]


def test_a_refused_change_leaves_no_trace(client: Client, store: Store) -> None:
    issue(client, "b", "a", borrower="Kim")

    with store.reading() as c:
        assert c.execute(sa.select(history)).all() == []
        assert c.execute(sa.select(loan)).all() == []
