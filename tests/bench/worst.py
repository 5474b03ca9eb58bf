"""Invented requests that ask for much: work, memory, answers; at the edge of what is accepted.

`python -m tests.bench.memory` and `python -m tests.bench.lateness` ask them.
"""

from collections.abc import Callable
from random import Random
from typing import Any, Final, TypeAlias

from msgspec import Struct

Body: TypeAlias = dict[str, Any]

BLOCKS: Final = 1000
TARGETS: Final = 100
MOST_POINTS: Final = 50
_STEPS: Final = (*range(1_001, 1_010), *range(1_010, 1_500, 10), *range(500, 10_000, 500))
"""Of a set, in 0.0001 inch; longer blocks follow."""
_LONG: Final = (10_000, 20_000, 30_000, 40_000)


class Worst(Struct, frozen=True, kw_only=True):
    """A request but for its time limit: what it is, where it goes, and its body."""

    name: str
    path: str
    body: Body


class Size(Struct, frozen=True, kw_only=True):
    """How much is asked for."""

    blocks: int = BLOCKS
    targets: int = TARGETS


def shelf(random: Random, count: int, *, dated: bool = False) -> list[Body]:
    """Certified inch blocks, out of as many sets as it takes."""
    calibration = {"certificate": "4711", "calibrated_on": "2026-03-31", "degrees_of_freedom": 8}
    more: Body = {"calibration": calibration} if dated else {}
    nominals = (*_STEPS, *_LONG)
    return [
        {
            "id": f"set-{number // len(nominals)}/{number % len(nominals)}",
            "nominal": _inch(nominals[number % len(nominals)]),
            "deviation": f"{random.randint(-60, 60) / 10}",
            "expanded_uncertainty": "2.1",
            **more,
        }
        for number in range(count)
    ]


def lengths(random: Random, count: int, **members: object) -> list[Body]:
    """Targets of four decimals."""
    return [
        {"ref": f"op{number}", "kind": "length", "length": _length(random), **members}
        for number in range(count)
    ]


def points(random: Random, ref: str, count: int) -> Body:
    """An instrument with so many points."""
    return {
        "ref": ref,
        "kind": "check_points",
        "points": [_length(random) for _ in range(count)],
    }


def _length(random: Random) -> str:
    return _inch(random.randrange(3_000, 60_000))


def _inch(steps: int) -> str:
    return f"{steps // 10_000}.{steps % 10_000:04d}"


def _stacks(random: Random, size: Size, targets: list[Body], **members: object) -> Body:
    return {"unit": "in", "blocks": shelf(random, size.blocks), "targets": targets, **members}


def _points(random: Random, size: Size) -> Body:
    return _stacks(random, size, [points(random, "m", min(size.targets, MOST_POINTS))])


def _clique(random: Random, size: Size) -> Body:
    """Three instruments side by side: every point of one beside every point of the others."""
    each = max(min(size.targets // 3, 11), 1)
    instruments = [points(random, f"m{n}", each) for n in range(3)]
    return _stacks(random, size, instruments, objective="least_error")


def _plain(random: Random, size: Size) -> Body:
    return _stacks(random, size, lengths(random, size.targets))


def _least_error(random: Random, size: Size) -> Body:
    return {**_plain(random, size), "objective": "least_error"}


def _squares(random: Random, size: Size) -> Body:
    return {**_least_error(random, size), "error_measure": {"kind": "expanded_uncertainty"}}


def _windows(random: Random, size: Size) -> Body:
    wide = {"lower": "-0.001", "upper": "0.001"}
    targets = lengths(random, size.targets, tolerance=wide)
    return _stacks(random, size, targets, objective="least_error")


def _worn(random: Random, size: Size) -> Body:
    """Wear blocks at both ends, of many lengths, so that there are many ways to begin."""
    body = _stacks(random, size, lengths(random, size.targets, wear_blocks="both"))
    for block in body["blocks"][::10]:
        block["role"] = "wear"
    return body


def _wordy(random: Random, size: Size) -> Body:
    """As much to say of every stack as there is."""
    said: Body = {"handwork": True, "budget": "table", "conditions": {"temperature": {"value": 21}}}
    return {**_plain(random, size), **said}


def _enforced(random: Random, size: Size) -> Body:
    """A ratio that every stack must keep, which takes the coverage factor of every block."""
    targets = lengths(random, size.targets)
    tolerances = [
        {
            "target": target["ref"],
            "lower": target["length"],
            "upper": _inch(round(float(target["length"]) * 10_000) + 2),
            "required_ratio": 4,
            "enforce_required_ratio": True,
        }
        for target in targets
    ]
    body = _stacks(random, size, targets, part_tolerances=tolerances)
    measure = {"kind": "expanded_uncertainty"}
    return {**body, "blocks": shelf(random, size.blocks, dated=True), "error_measure": measure}


def _trade_off(random: Random, size: Size) -> Body:
    return {**_plain(random, size), "trade_off": True}


def _alternatives(random: Random, size: Size) -> Body:
    return _stacks(random, size, lengths(random, 1), alternatives=20)


def _scarce(random: Random, size: Size) -> Body:
    """Everybody wants the same few blocks: next to nothing is served, and all has to be said."""
    same = [{**target, "length": "0.3009"} for target in lengths(random, size.targets)]
    return _stacks(random, size, same)


def _odd(random: Random, size: Size) -> Body:
    """Lengths that share no step but the smallest there is."""
    blocks = [
        {"id": f"b{n}", "nominal": f"{random.randrange(10**7, 10**9) / 1e7:.7f}", "grade": "1"}
        for n in range(size.blocks)
    ]
    wide = {"lower": "-0.01", "upper": "0.01"}
    targets = [
        {"ref": f"t{n}", "kind": "length", "length": f"{random.randint(20, 300)}"}
        | ({"tolerance": wide} if n % 2 else {"max_blocks": 4})
        for n in range(size.targets)
    ]
    return {"unit": "mm", "blocks": blocks, "targets": targets}


def _check(random: Random, size: Size) -> Body:
    """A stack of many blocks, and the search for a better one."""
    return {
        "unit": "in",
        "blocks": shelf(random, size.blocks, dated=True),
        "stack": [f"set-0/{place}" for place in range(min(size.blocks, 60))],
        "length": "12.3456",
        "conditions": {"temperature": {"value": 21, "limits": 1}},
    }


def _coverage(random: Random, size: Size) -> Body:
    """As many sums as are taken, and a drawing."""
    return {
        "unit": "in",
        "blocks": shelf(random, size.blocks),
        "range": {"start": "0.3", "stop": "190", "step": "0.0001"},
        "max_runs": 10_000,
        "max_gaps": 10_000,
        "picture": True,
    }


_MAKERS: Final[dict[str, tuple[str, Callable[[Random, Size], Body]]]] = {
    "points of an instrument": ("/v1/stacks", _points),
    "three instruments at one time": ("/v1/stacks", _clique),
    "lengths": ("/v1/stacks", _plain),
    "lengths, least error": ("/v1/stacks", _least_error),
    "lengths, mean squares": ("/v1/stacks", _squares),
    "windows": ("/v1/stacks", _windows),
    "wear blocks at both ends": ("/v1/stacks", _worn),
    "handwork and budgets": ("/v1/stacks", _wordy),
    "ratio enforced": ("/v1/stacks", _enforced),
    "trade-off": ("/v1/stacks", _trade_off),
    "20 alternatives": ("/v1/stacks", _alternatives),
    "all want the same blocks": ("/v1/stacks", _scarce),
    "no common step": ("/v1/stacks", _odd),
    "stack check": ("/v1/stack-checks", _check),
    "coverage": ("/v1/coverage", _coverage),
}
KINDS: Final = tuple(_MAKERS)


def worst(name: str, size: Size, seed: int = 1) -> Worst:
    """One of the kinds; another seed gives other lengths and deviations."""
    path, make = _MAKERS[name]
    return Worst(name=name, path=path, body=make(Random(f"{name}/{seed}"), size))
