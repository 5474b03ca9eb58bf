"""Requests of every sort, and the bytes of their answers less the times they took.

`python -m solver.proofs.same_answers SEED` (in `tests`) prints them as a process of its own finds
them, in an order shuffled by the seed.
"""

import random
import sys
from collections.abc import Callable, Mapping
from typing import Final

import msgspec
from msgspec import Struct

from solver.proofs.shelves import certified, random_targets, two_sets
from solver.untimed import untimed
from wrung import Answer, Block, GaugeSet, LengthTarget, Objective, solve
from wrung.testing import make_blocks, make_targets

AMPLE_MS: Final = 60_000


class Asked(Struct, frozen=True, kw_only=True):
    """A request of this module."""

    blocks: tuple[Block, ...]
    targets: tuple[LengthTarget, ...]
    objective: Objective


def requests() -> Mapping[str, Asked]:
    """By name; each is proven to the end in well under a second."""
    one = GaugeSet(id="a", composition="inch-81", grade="AS-1").blocks()
    known = tuple(certified([block.nominal for block in one], seed=7))
    clique = make_targets("2.011 7.003 7.003 13.02")
    few = make_blocks("1.001 1.002 1.003 1.01 1.02 1 2 3 4 5 10")
    shapes: Mapping[str, tuple[tuple[Block, ...], tuple[LengthTarget, ...]]] = {
        "single": (one, tuple(random_targets(1, seed=1))),
        "single certified": (known, tuple(random_targets(1, seed=2))),
        "several": (one, tuple(random_targets(5, seed=3))),
        "several certified": (known, tuple(random_targets(4, seed=4))),
        "two sets": (two_sets(), tuple(random_targets(12, seed=6))),
        "contended": (few, clique),
        "short": (one, tuple(random_targets(10, seed=1))),
        "none": (few, make_targets("0.5 2000")),
    }
    return {
        f"{name}, {objective}": Asked(blocks=blocks, targets=targets, objective=objective)
        for name, (blocks, targets) in shapes.items()
        for objective in ("fewest_blocks", "least_error")
    }


def answer_of(asked: Asked) -> Answer:
    """With ample time: what ends by the clock may differ."""
    return solve(asked.blocks, asked.targets, objective=asked.objective, time_limit_ms=AMPLE_MS)


def as_bytes(answer: Answer) -> bytes:
    """All of it but the time it took."""
    return msgspec.json.encode(untimed(answer))


def answers(order: int, before: Callable[[], None] = lambda: None) -> Mapping[str, bytes]:
    """All answers, found in an order shuffled by the number, after a call of ``before`` each."""
    asked = list(requests().items())
    random.Random(order).shuffle(asked)  # noqa: S311 - nothing secret
    found: dict[str, bytes] = {}
    for name, one in asked:
        before()
        found[name] = as_bytes(answer_of(one))
    return dict(sorted(found.items()))


if __name__ == "__main__":
    sys.stdout.buffer.write(msgspec.json.encode(answers(int(sys.argv[1]))))
