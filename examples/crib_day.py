"""A day in an invented shop's tool crib, told by the service: `make demo` runs it.

A set is registered, two jobs race for the same blocks, another is refused and told why, a stack
goes out, a block comes back damaged, a later job is planned anew, and in the evening the crib looks
back. Standard library only.
The shop, its set and its jobs are invented.
"""

import json
import sys
import tempfile
import threading
import urllib.error
import urllib.request
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import demo

SITE = "/v1/sites/mill-lane"
NOW = datetime.now(UTC).replace(microsecond=0)


def main() -> None:
    """Tell the day on a store that is gone afterwards."""
    with tempfile.TemporaryDirectory() as folder:
        store = f"sqlite:///{Path(folder) / 'crib.db'}"
        # A minute for a search, where a machine is slow, or stands still for a moment.
        limit = ("--default-time-limit-ms", "60000")
        flags = ("--store-url", store, "--missing-store", "make", *limit)
        with demo.running_service(*flags) as address:
            Day(address).tell()


class Day:
    """The day, step by step."""

    def __init__(self, address: str) -> None:
        self._address = address

    def tell(self) -> None:
        """All of it, in order."""
        self._register()
        later = self._plan("6120", "31.001", hours=(4, 6))
        promised = ["These blocks are promised to it for that time, and to nobody else."]
        say(f"Job 6120 plans 31.001 mm, {between(4, 6)}", stack_of(later) + promised)
        winner = self._race()
        self._refuse()
        self._issue(winner)
        self._finish(winner)
        failed = self._return_damaged(winner)
        self._plan_anew(failed)
        self._recall(failed)

    def _register(self) -> None:
        self._ask("PUT", SITE, {"name": "Mill Lane", "time_zone": "Europe/Berlin"}, new=True)
        bench = {
            "composition": "metric-88",
            "grade": "1",
            "material": "steel",
            "serial": "ML-1",
        }
        self._ask("PUT", f"{SITE}/sets/bench-1", bench, new=True)
        blocks = self._ask("GET", f"{SITE}/blocks?limit=200")["blocks"]
        registered = f"Its set bench-1 is registered: {len(blocks)} blocks, one of each length."
        say("A day in the tool crib of Mill Lane, an invented shop", [registered])

    def _plan(self, job: str, length: str, hours: tuple[float, float]) -> dict[str, Any]:
        """The plan, or the problem, of one stack at a time of need."""
        request = {
            "unit": "mm",
            "crib": {
                "site": "mill-lane",
                "needed_from": at(hours[0]),
                "needed_until": at(hours[1]),
            },
            "job": job,
            "operation": "op-20",
            "targets": [{"kind": "length", "ref": "slot", "length": length}],
        }
        return self._ask("POST", "/v1/plans", request, key=f"{job}-op-20")

    def _race(self) -> dict[str, Any]:
        """Two jobs want lengths that only one block of 1.001 mm can end, in the same hour."""
        answers: dict[str, dict[str, Any]] = {}

        def compete(job: str) -> None:
            answers[job] = self._plan(job, "21.001", hours=(0, 2))

        threads = [threading.Thread(target=compete, args=(job,)) for job in ("6101", "6102")]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        won = [each for each in answers.values() if "promises" in each]
        lines = [f"{job}: {outcome_of(each)}" for job, each in sorted(answers.items())]
        only = ["There is one block of 1.001 mm: whoever is second gets a stack of other blocks."]
        say(f"At one moment, two jobs want 21.001 mm, both {between(0, 2)}", lines + only)
        return next(each for each in won if "1.001" in "".join(stack_of(each)).split())

    def _refuse(self) -> None:
        """No other block can end 2.0005 mm, so the second job learns who has that block."""
        answers = {job: self._plan(job, "2.0005", hours=(0, 2)) for job in ("6103", "6104")}
        lines = [f"{job}: {outcome_of(each)}" for job, each in answers.items()]
        taken = next(each for each in answers["6104"]["taken"] if each["block"] == "bench-1/1.0005")
        who = f"{taken['block']} is promised to job {taken['job']} until {clock(taken['ends_at'])}"
        say("One after another, two more want 2.0005 mm then", [*lines, f"      {who}"])

    def _issue(self, plan: dict[str, Any]) -> None:
        ids = [each["block"] for each in plan["promises"]]
        out = self._ask("POST", f"{SITE}/issues", {"blocks": ids})["loans"]
        lines = [f"{each['block']}, due back at {clock(each['due_at'])}" for each in out]
        say(f"Job {plan['job']} takes its stack: a scan of each block is enough", lines)

    def _return_damaged(self, plan: dict[str, Any]) -> str:
        """The block that the afternoon's plan counts on as well comes back with a burr."""
        ids: list[str] = [each["block"] for each in plan["promises"]]
        wanted = {each["id"] for each in self._blocks_of_job("6120")}
        failed = next((each for each in ids if each in wanted), ids[0])
        back = [
            {"id": each, "condition": "damaged", "reason": "burr at the edge"}
            if each == failed
            else {"id": each}
            for each in ids
        ]
        answer = self._ask("POST", f"{SITE}/returns", {"blocks": back})
        lines = [
            ", ".join(filter(None, (each["id"], each["condition"], each["condition_reason"])))
            for each in answer["blocks"]
        ]
        lines += [
            f"The plan of job {each['job']} counts on {each['block']}: it is at risk."
            for each in answer["at_risk"]
        ]
        say(f"Job {plan['job']} brings its stack back", lines)
        return failed

    def _blocks_of_job(self, job: str) -> Iterable[dict[str, Any]]:
        for plan in self._ask("GET", f"/v1/plans?site=mill-lane&job={job}")["plans"]:
            details = self._ask("GET", f"/v1/plans/{plan['id']}")
            for stack in details["answer"]["stacks"]:
                yield from stack["blocks"]

    def _plan_anew(self, failed: str) -> None:
        for risk in self._ask("GET", f"{SITE}/risks")["at_risk"]:
            anew = self._ask("POST", risk["replan"], {"reason": f"{failed} is damaged"})
            say(f"Job {risk['job']} is planned anew, without {failed}", stack_of(anew))

    def _finish(self, plan: dict[str, Any]) -> None:
        done = self._ask("POST", f"/v1/plans/{plan['id']}/end", {"state": "done"})
        say(
            f"Job {plan['job']} is {done['state']}",
            ["Its record stays, with its blocks and their figures as they were."],
        )

    def _recall(self, block: str) -> None:
        day = NOW.date() - timedelta(days=30)
        found = self._ask("GET", f"{SITE}/recall?block={block}&since={day}")
        lines = [
            f"job {each['job']}, {each['operation']}: {each['state']}" for each in found["used"]
        ]
        say(f"In the evening, a recall: which jobs used {block} since {day}?", lines)

    def _ask(
        self,
        method: str,
        path: str,
        body: dict[str, Any] | None = None,
        *,
        key: str | None = None,
        new: bool = False,
    ) -> dict[str, Any]:
        """The answer; 409 and 422 are answers, too, anything else ends the demo."""
        headers = {"Content-Type": "application/json"}
        headers |= {"Idempotency-Key": key} if key else {}
        headers |= {"If-None-Match": "*"} if new else {}
        data = None if body is None else json.dumps(body).encode()
        message = urllib.request.Request(
            self._address + path, data=data, headers=headers, method=method
        )
        try:
            with urllib.request.urlopen(message, timeout=60) as response:
                return dict(json.load(response))
        except urllib.error.HTTPError as refused:
            problem = dict(json.loads(refused.read()))
            if refused.code not in {409, 422}:
                sys.exit(f"{method} {path}: {problem}")
            return problem


def clock(moment: str) -> str:
    """The time of day of a moment."""
    return f"{datetime.fromisoformat(moment):%H:%M} UTC"


def between(start: float, end: float) -> str:
    """A time of need in words."""
    return f"from {clock(at(start))} to {clock(at(end))}"


def at(hours: float) -> str:
    """So many hours from now, as RFC 3339 has it."""
    return (NOW + timedelta(hours=hours)).isoformat().replace("+00:00", "Z")


def stack_of(plan: dict[str, Any]) -> list[str]:
    """The stacks of a plan, a line each."""
    return [
        f"{stack['length']} mm = " + " + ".join(block["nominal"] for block in stack["blocks"])
        for stack in plan["answer"]["stacks"]
    ]


def outcome_of(answer: dict[str, Any]) -> str:
    """What became of a plan."""
    if "promises" in answer:
        return f"has it: {'; '.join(stack_of(answer))}"
    return f"refused, {answer['status']}: {answer['detail']}"


def say(title: str, lines: Sequence[str]) -> None:
    """Print a step of the day."""
    print("\n".join((f"\n{title}", *(f"  {line}" for line in lines))), flush=True)


if __name__ == "__main__":
    main()
