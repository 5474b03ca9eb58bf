"""One installation goes through one trouble after another, with clients at work all the time."""

import time
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta

import httpx

from bench.crib.served import plan_of

from .accounting import faults
from .clients import PATIENCE_S, Account, Clients, Tally
from .installation import Installation, installed
from .troubles import TROUBLES

HEAD = (
    "| trouble | plans | stacks | cards | batches | 503, sent again | cut, sent again "
    "| slowest answer, s | as before after, s | does not add up |\n"
    "| --- | --- | --- | --- | --- | ---: | ---: | ---: | ---: | ---: |"
)
_WITHOUT_S = 3.0


def suffered(names: Sequence[str]) -> Iterator[str]:
    """A row for each trouble.

    Raises:
        AssertionError: something does not add up, or a process did not survive.
    """
    account = Account()
    with installed(on_small_disk="disk" in names) as of:
        held = _held_now(of, account)
        for name in names:
            clients = Clients(of.address, account)
            with clients.busy() as tallies:
                time.sleep(_WITHOUT_S)
                TROUBLES[name](of)
                after_s = _recovered(of)
                time.sleep(_WITHOUT_S)
            wrong = [*faults(of.database, account), *of.dead()]
            if (state := httpx.get(held, timeout=60).json()["state"]) != "planned":
                wrong.append(f"a plan is {state} before its time is over")
            yield f"| {name} | {_cells(tallies)} | {after_s:.1f} | {len(wrong)} |"
            assert not wrong, (name, wrong, of.errors())


def _held_now(of: Installation, account: Account) -> str:
    """The address of a plan whose time has begun, and ends in less than an hour."""
    begun = datetime.now(UTC)
    end = begun + timedelta(minutes=45)
    body = plan_of(0, "10", 0)
    body["crib"] |= {"needed_from": begun.isoformat(), "needed_until": end.isoformat()}
    body["job"] = "now"
    answer = httpx.post(
        f"{of.address}/v1/plans", json=body, headers={"Idempotency-Key": "now"}, timeout=60
    )
    assert answer.status_code == 201, answer.text
    account.plans.add(answer.json()["id"])
    return f"{of.address}{answer.headers['Location']}"


def _recovered(of: Installation) -> float:
    """How long it takes until every replica is ready and looks into the crib, s."""
    began = time.monotonic()
    of.wait_until_ready()
    for each in of.replicas:
        address = f"http://127.0.0.1:{each.port}/v1/plans?limit=1&site=north-hall"
        while (answer := httpx.get(address, timeout=60)).status_code != 200:
            assert time.monotonic() - began < PATIENCE_S, answer.text
            time.sleep(0.1)
    return time.monotonic() - began


def _cells(tallies: dict[str, Tally]) -> str:
    kinds = " | ".join(str(tallies[kind]) for kind in ("plan", "stack", "card", "batch"))
    refused, cut = (
        sum(getattr(each, name) for each in tallies.values()) for name in ("refused", "cut")
    )
    slowest = max(each.slowest_s for each in tallies.values())
    return f"{kinds} | {refused} | {cut} | {slowest:.1f}"
