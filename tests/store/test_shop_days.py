"""A shop day at random: whatever is asked in which order, what must always hold does.

Judged by sums and comparisons of this file's own.
"""

import hashlib
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from decimal import Decimal
from itertools import pairwise
from random import Random
from typing import Any, Final
from zoneinfo import ZoneInfo

import pytest
import rfc8785
from litestar.testing import TestClient

from store.planning import Client, asked
from store.rows import SITE, Clock
from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.store.engine import Store

HALL: Final = f"/v1/sites/{SITE}"
ZONE: Final = ZoneInfo("America/St_Johns")
SHELF: Final = ("1", "1.001", "1.005", "1.01", "1.02", "1.1", "1.2", "2", "3", "5", "10", "20")
STEPS: Final = 50
OFFSETS: Final = ("Z", "+01:00", "-03:30", "+05:45")
Json = dict[str, Any]


@pytest.fixture
def client(store: Store, clock: Clock) -> Iterator[Client]:
    """A site of certified blocks, longer and shorter than they should be, and some in inches."""
    random = Random(2)  # noqa: S311 - the same each time
    app = create_app(Settings(solve_workers=2), store=store, clock=clock)
    with TestClient(app) as client:
        client.put(HALL, json={"name": "North hall", "time_zone": str(ZONE)})
        for nominal in SHELF:
            assert client.put(f"{HALL}/blocks/m/{nominal}", json=_certified(random, nominal, "mm"))
        for nominal in (".5", "1"):
            assert client.put(f"{HALL}/blocks/i/{nominal}", json=_certified(random, nominal, "in"))
        yield client


def _certified(random: Random, nominal: str, unit: str) -> Json:
    due = random.choice(["2027-03-01", *["2028-01-31"] * 4])
    return {
        "id": f"{unit[0]}/{nominal}",
        "nominal": nominal,
        "unit": unit,
        "deviation": random.choice(["-0.08", "-0.03", "0", "0.05"]),
        "expanded_uncertainty": random.choice(["0.05", "0.06"]),
        "calibration": {"certificate": f"K-{random.randrange(100)}", "due_on": due},
    }


class Day:
    """One day, with what was done by it."""

    def __init__(self, client: Client, seed: int) -> None:
        self._client, self._random = client, Random(seed)  # noqa: S311 - plays it again
        # In the order made: their ids are others each time.
        self.plans: list[str] = []

    def go_on(self) -> None:
        """Whatever comes next; much of it is refused, and that with a sentence."""
        steps: tuple[Callable[[], None], ...] = (self._plan, self._issue, self._bring_back)
        more = (self._change, self._calibrate, self._replan, self._end)
        self._random.choice((*steps, *[self._plan] * 5, *more))()

    def _ask(self, method: str, path: str, body: Json, **headers: str) -> Json:
        answer = self._client.request(method, path, json=body, headers=headers)
        said: Json = answer.json()
        assert answer.status_code < 500, (path, body, said)
        if answer.status_code >= 400:
            assert answer.headers["content-type"] == "application/problem+json"
            assert said["detail"].endswith("."), said
        return said

    def _plan(self) -> None:
        random = self._random
        lengths = [self._length() for _ in range(random.choice([1, 1, 2]))]
        start = random.randrange(0, 64) / 4
        body = asked(*lengths, start=start, end=start + random.choice([0.25, 1, 8]))
        crib = body["crib"]
        for name in ("needed_from", "needed_until"):
            crib[name] = _elsewhere(crib[name], random.choice(OFFSETS))
        body |= random.choice([{}, {"pause_minutes": 20}, {"timing": "in_turn"}])
        body |= random.choice([{}, {"partial": True}, {"priority": 1, "displace": True}])
        key = {"Idempotency-Key": f"key-{len(self.plans)}-{random.random()}"}
        first, again = (self._ask("POST", "/v1/plans", body, **key) for _ in range(2))
        assert first.get("id") == again.get("id")
        if "promises" in first:
            self.plans.append(first["id"])
            self._judge(first, body)

    def _length(self) -> str:
        return str(sum(map(Decimal, self._random.sample(SHELF, self._random.choice([1, 2, 3])))))

    def _judge(self, plan: Json, body: Json) -> None:
        """A plan as it was made: sums, errors, last days of use, record."""
        ends = datetime.fromisoformat(body["crib"]["needed_until"])
        last = ends.astimezone(ZONE).date().isoformat()
        for stack in plan["record"]["stacks"]:
            blocks = stack["blocks"]
            exact = sum(_mm(each["nominal"], each["unit"]) for each in blocks)
            assert exact == Decimal(stack["length"])
            worst = abs(_total(blocks, "deviation")) + _total(blocks, "uncertainty")
            worst += Decimal("0.0254") * (len(blocks) - 1)
            assert Decimal(stack["worst_case_error"]) == worst
            assert all(each["due_on"] >= last for each in blocks)
        written = rfc8785.dumps(plan["record"]["request"])
        assert hashlib.sha256(written).hexdigest() == plan["record"]["request_sha256"]
        assert self._ask("POST", "/v1/stack-checks", {"record": plan["record"]})["holds"]

    def _some(self, most: int) -> list[str]:
        names = [f"m/{each}" for each in SHELF] + ["i/.5", "i/1"]
        return self._random.sample(names, self._random.randint(1, most))

    def _issue(self) -> None:
        borrower = self._random.choice([{}, {"borrower": "Kim"}])
        self._ask("POST", f"{HALL}/issues", {"blocks": self._some(2), **borrower})

    def _bring_back(self) -> None:
        how = self._random.choice([{}, {}, {"condition": "damaged", "reason": "burr"}])
        blocks = [{"id": each, **how} for each in self._some(1)]
        self._ask("POST", f"{HALL}/returns", {"blocks": blocks})

    def _change(self) -> None:
        condition = self._random.choice([*["fit"] * 4, "missing", "at_calibration"])
        body = {"blocks": self._some(3), "condition": condition, "reason": "seen"}
        self._ask("POST", f"{HALL}/condition-changes", body)

    def _calibrate(self) -> None:
        body = _certified(self._random, self._random.choice(SHELF), "mm")
        self._ask("PUT", f"{HALL}/blocks/{body['id']}", body, **{"If-Match": "*"})

    def _replan(self) -> None:
        if self.plans:
            plan = self._random.choice(self.plans)
            self._ask("POST", f"/v1/plans/{plan}/replan", {})

    def _end(self) -> None:
        if self.plans:
            plan, state = self._random.choice(self.plans), {"state": "done"}
            self._ask("POST", f"/v1/plans/{plan}/end", state)


def _elsewhere(moment: str, offset: str) -> str:
    """The same moment by a clock elsewhere."""
    at = datetime.fromisoformat(moment)
    zone = UTC if offset == "Z" else datetime.fromisoformat(f"2027-01-01T00:00{offset}").tzinfo
    return at.astimezone(zone).isoformat()


def _mm(text: str, unit: str) -> Decimal:
    return Decimal(text) * (Decimal("25.4") if unit == "in" else 1)


def _total(blocks: list[Json], member: str) -> Decimal:
    """The sum of a figure, which is in the small unit of the request, µm."""
    return sum((Decimal(each[member] or 0) for each in blocks), Decimal(0))


def test_what_must_hold_holds_on_any_day(client: Client) -> None:
    day = Day(client, seed=1)
    for _ in range(STEPS):
        day.go_on()

    plans = [client.get(f"/v1/plans/{each}").json() for each in day.plans]
    assert len(plans) > STEPS / 10
    planned = [each for each in plans if each["state"] == "planned"]
    times: dict[str, list[tuple[str, str]]] = {}
    for plan in planned:
        used = {block["id"] for stack in plan["answer"]["stacks"] for block in stack["blocks"]}
        assert plan["at_risk"] or used == {each["block"] for each in plan["promises"]}
        spans = {(each["block"], each["starts_at"], each["ends_at"]) for each in plan["promises"]}
        for block, starts, ends in spans:
            times.setdefault(block, []).append((starts, ends))
    for spans_of_block in times.values():
        assert all(one[1] <= two[0] for one, two in pairwise(sorted(spans_of_block)))
    previous = "0" * 64
    for entry in client.get(f"{HALL}/history?limit=200").json()["entries"]:
        said = entry.pop("hash")
        assert (entry["previous"], said) == (
            previous,
            hashlib.sha256(rfc8785.dumps(entry)).hexdigest(),
        )
        previous = said
