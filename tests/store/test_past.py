"""History, and jobs as they were."""

import csv
import hashlib
import io
import json
from datetime import timedelta
from decimal import Decimal
from typing import Any, cast
from urllib.parse import quote

import pytest

from store.looking_back import (
    HALL,
    Client,
    asked,
    certify,
    client_of_a_test,
    end,
    issue,
    plan,
    problem,
    recalled,
    replan,
)
from store.rows import START, Clock, hours
from wrung_service.store.engine import Store

__all__ = ["client_of_a_test"]
"""Fixtures, which pytest finds here."""


class TestHistory:
    def test_it_says_who_did_what_when_and_why(self, client: Client) -> None:
        made = plan(client, "7")
        body = {"state": "cancelled", "reason": "order withdrawn"}
        client.post(f"/v1/plans/{made['id']}/end", json=body)

        begin, end = asked(client, "history", kind="plan")["entries"]

        assert (begin["what"], end["what"]) == ("plan.made", "plan.cancelled")
        assert (begin["subject"], begin["job"]) == (made["id"], "4711")
        assert begin["detail"]["blocks"] == ["2", "5"]
        assert (end["who"], end["why"]) == ("anybody", "order withdrawn")
        assert end["at"] == "2027-02-28T08:00:00.000000Z"

    def test_a_client_can_check_the_chain_by_itself(self, client: Client) -> None:
        """With nothing but JSON and SHA-256: the code below is none of the service's."""
        made = plan(client, "7", job="Größe \N{BLACK STAR}")
        replan(client, made, "5")
        end(client, made)
        certify(client, "5", "5", deviation="-0.031", certificate='C "x" \\ 7')

        entries = asked(client, "history")["entries"]

        previous = "0" * 64
        for number, entry in enumerate(entries, 1):
            said = entry.pop("hash")
            assert (entry["number"], entry["previous"]) == (number, previous)
            assert hashlib.sha256(canonical(entry).encode()).hexdigest() == said
            previous = said
        # A site, five blocks, four times something was done.
        assert len(entries) == 10

    def test_pages_are_the_whole(self, client: Client) -> None:
        whole = asked(client, "history")["entries"]

        address, pages = f"{HALL}/history?limit=4&kind=block", list[Any]()
        while address:
            page = client.get(address)
            pages.append(page.json())
            address = page.links.get("next", {}).get("url", "")

        assert [len(each["entries"]) for each in pages] == [4, 1]
        assert [entry for each in pages for entry in each["entries"]] == whole[1:]
        assert pages[-1]["next"] is None

    def test_filters(self, client: Client, clock: Clock) -> None:
        plan(client, "7", job="A")
        clock.now += timedelta(hours=2)
        made = plan(client, "6", job="B", at=3)
        end(client, made)

        def found(**parameters: str) -> list[tuple[str, str | None]]:
            entries = asked(client, "history", **parameters)["entries"]
            return [(each["what"], each["job"]) for each in entries]

        assert found(job="A") == [("plan.made", "A")]
        assert found(kind="plan", subject=made["id"]) == [("plan.made", "B"), ("plan.done", "B")]
        assert found(kind="block", subject="b/9") == [("block.made", None)]
        since = "2027-02-28t11:00:00+01:00"
        assert found(since=since) == [("plan.made", "B"), ("plan.done", "B")]
        assert ("plan.done", "B") not in found(until=since)
        assert len(found(until=since)) == 7
        assert found(who="nobody") == []

    @pytest.mark.parametrize(
        ("name", "value"),
        [
            ("since", "yesterday"),
            ("since", "2027-02-28T08:00:00"),
            ("since", "2027-02-30T08:00:00Z"),
            ("until", "20270228T080000Z"),
            ("cursor", "x"),
            ("cursor", "9" * 20),
            ("limit", "0"),
            ("job", "\0"),
            ("who", "a\n"),
            ("kind", "k" * 17),
        ],
    )
    def test_what_makes_no_sense_is_refused(self, client: Client, name: str, value: str) -> None:
        assert problem(client, "history", **{name: value}) == "invalid-parameter"

    def test_a_client_that_has_it_is_told_so(self, client: Client) -> None:
        tag = client.get(f"{HALL}/history").headers["etag"]

        kept = client.get(f"{HALL}/history", headers={"If-None-Match": tag})

        assert (kept.status_code, kept.content) == (304, b"")
        plan(client, "7")
        again = client.get(f"{HALL}/history", headers={"If-None-Match": tag})
        assert again.status_code == 200

    @pytest.mark.parametrize("address", ["history", "jobs/4711", "recall?block=5&since=2027-03-01"])
    def test_an_unknown_site_has_none(self, client: Client, address: str) -> None:
        assert client.get(f"/v1/sites/south-hall/{address}").status_code == 404


def canonical(value: Any) -> str:  # noqa: ANN401 - any JSON
    """JSON in the form of RFC 8785, as far as history needs it, written for this test alone."""
    if isinstance(value, dict):
        names = cast("list[str]", list(value))  # pyright: ignore[reportUnknownArgumentType] -- any JSON
        # They sort by UTF-16 code units.
        names.sort(key=lambda name: name.encode("utf-16-be"))
        return "{" + ",".join(f"{canonical(n)}:{canonical(value[n])}" for n in names) + "}"
    if isinstance(value, list):
        return f"[{','.join(map(canonical, value))}]"  # pyright: ignore[reportUnknownArgumentType]
    if isinstance(value, float):
        # Numbers as ECMAScript writes them: these need no exponent.
        assert value == 0 or 1e-6 <= abs(value) < 1e21
        return f"{Decimal(repr(value)).normalize():f}"
    return json.dumps(value, ensure_ascii=False)


class TestJobs:
    def test_a_recalibration_does_not_change_what_was(self, client: Client) -> None:
        made = plan(client, "7")
        end(client, made)
        before = asked(client, "jobs/4711")

        certify(client, "5", "5", deviation="9.99", certificate="C-other")
        certify(client, "2", "2", deviation="-9.99", certificate="C-another")

        assert asked(client, "jobs/4711") == before
        (kept,) = before["plans"]
        ((only,),) = ([each["record"] for each in kept["records"]],)
        assert only == made["record"]
        blocks = {each["id"]: each for each in only["stacks"][0]["blocks"]}
        assert (blocks["5"]["certificate"], blocks["5"]["deviation"]) == ("C-5", "0.02")
        assert client.get(f"{HALL}/blocks/5").json()["deviation"] == "9.99"

    def test_it_has_all_plans_and_what_belongs_to_them(self, client: Client, store: Store) -> None:
        first, second = plan(client, "7"), plan(client, "3", at=2)
        plan(client, "6", job="other", at=4)
        issue(store, first, "5", 0, 0.5)

        job = asked(client, "jobs/4711")

        assert [each["id"] for each in job["plans"]] == [first["id"], second["id"]]
        assert [each["block"] for each in job["plans"][0]["loans"]] == ["5"]
        assert job["plans"][0]["loans"][0]["issued_by"] == "Ida"
        assert [each["what"] for each in job["entries"]] == ["plan.made", "plan.made"]

    def test_what_went_out_and_came_back_belongs_to_it(self, client: Client, clock: Clock) -> None:
        made = plan(client, "7")
        clock.now = hours(0)
        out = client.post(f"{HALL}/issues", json={"blocks": ["5", "2"], "plan": made["id"]})
        assert out.status_code == 200, out.text
        clock.now = hours(1)
        back = {"blocks": [{"id": "5", "condition": "damaged", "reason": "a nick"}, {"id": "2"}]}
        assert client.post(f"{HALL}/returns", json=back).status_code == 200
        end(client, made)

        job = asked(client, "jobs/4711")

        told = [
            (each["what"], each["subject"]) for each in job["entries"] if each["kind"] == "block"
        ]
        assert told == [("block.issued", n) for n in ("5", "2")] + [
            ("block.returned", n) for n in ("5", "2")
        ]
        loans = {each["block"]: each["returned_condition"] for each in job["plans"][0]["loans"]}
        assert loans == {"5": "damaged", "2": "fit"}
        assert recalled(client) == (["4711"], [])

    def test_a_plan_that_was_planned_anew_has_both_records(
        self, client: Client, clock: Clock
    ) -> None:
        made = plan(client, "7")
        clock.now += timedelta(hours=1)
        replan(client, made, "5")

        (kept,) = asked(client, "jobs/4711")["plans"]

        old, new = kept["records"]
        assert old["record"] == made["record"]
        assert (old["replaced_at"], new["replaced_at"]) == ("2027-02-28T09:00:00Z", None)
        assert {each["id"] for each in new["record"]["stacks"][0]["blocks"]} == {"2", "5-too"}

    def test_records_hold_when_they_are_checked(self, client: Client) -> None:
        made = plan(client, "7", "9")
        replan(client, made, "5")

        for each in asked(client, "jobs/4711")["plans"][0]["records"]:
            checked = client.post("/v1/stack-checks", json={"record": each["record"]})
            assert checked.json()["holds"], checked.text

    def test_a_table_has_a_row_for_each_block(self, client: Client) -> None:
        job = '=1+1, "a"; b'
        labelled = {"kind": "length", "ref": "t0", "length": "7", "labels": {"drawing": '-2,"x"'}}
        made = plan(client, "7", job=job, targets=[labelled])
        end(client, made)

        sent = client.get(f"{HALL}/jobs/{quote(job, safe='')}", headers={"Accept": "text/csv"})

        assert sent.headers["content-type"].startswith("text/csv")
        assert "Accept" in sent.headers["vary"]
        rows = list(csv.DictReader(io.StringIO(sent.text, newline="")))
        assert {each["block_id"] for each in rows} == {"2", "5"}
        # What a spreadsheet would work out is text.
        assert {each["job"] for each in rows} == {f"'{job}"}
        assert {each["plan"] for each in rows} == {made["id"]}
        assert {each["state"] for each in rows} == {"done"}
        assert {each["needed_from"] for each in rows} == {START.isoformat()}
        assert {each["certificate"] for each in rows} == {"C-2", "C-5"}
        assert {each["labels"] for each in rows} == {'{"drawing":"-2,\\"x\\""}'}
        assert [each["place"] for each in rows] == ["1", "2"]

    @pytest.mark.parametrize("job", ["4711/20", "a//b/", "50 % #2?", "ä.b"])
    def test_jobs_are_named_as_people_like(self, client: Client, job: str) -> None:
        plan(client, "7", job=job)

        assert asked(client, f"jobs/{quote(job, safe='')}")["job"] == job

    def test_there_is_none_of_which_nothing_is_known(self, client: Client) -> None:
        assert problem(client, "jobs/4712") == "not-found"
        assert problem(client, "jobs/%00") == "not-found"

    def test_a_plan_whose_time_is_over_has_expired(self, client: Client, clock: Clock) -> None:
        plan(client, "7")
        clock.now = hours(9)

        job = asked(client, "jobs/4711")

        assert [each["state"] for each in job["plans"]] == ["expired"]
        assert job["entries"][-1]["what"] == "plan.expired"
