"""Shelves of invented blocks that are hard on a search, and problems over them."""

from collections.abc import Sequence
from random import Random
from typing import Final

from wrung import Block, GaugeSet, LengthTarget, Objective, inch, mm, um
from wrung.order import Order
from wrung.planning.problem import Problem, build_problem

OBJECTIVES: Final[tuple[Objective, ...]] = ("fewest_blocks", "least_error")


def problem_of(
    blocks: Sequence[Block],
    targets: Sequence[LengthTarget],
    objective: Objective,
    *,
    joint_allowance: int = 0,
) -> Problem:
    return build_problem(
        Order(blocks=blocks, targets=targets, objective=objective, joint_allowance=joint_allowance)
    )


def certified(nominals: Sequence[int], seed: int) -> list[Block]:
    """Blocks of these lengths, quanta; deviations of up to 0.12 µm, uncertainty 0.03 µm."""
    random, most = Random(seed), um("0.12")  # noqa: S311 - invented data, nothing secret
    return [
        Block(
            id=f"b{place}",
            nominal=nominal,
            deviation=random.randint(-most, most) // 100 * 100,
            expanded_uncertainty=um("0.03"),
        )
        for place, nominal in enumerate(nominals)
    ]


def hundredths(count: int) -> list[int]:
    """Lengths of 0.01 mm, 0.02 mm and so on, quanta."""
    return [mm("0.01") * n for n in range(1, count + 1)]


def two_sets() -> tuple[Block, ...]:
    """162 blocks, inch."""
    return tuple(
        block
        for name in ("a", "b")
        for block in GaugeSet(id=name, composition="inch-81", grade="AS-1").blocks()
    )


def random_targets(count: int, seed: int) -> list[LengthTarget]:
    """Exact lengths of four decimals from 0.3 to 2 in."""
    random, step = Random(seed), inch("0.0001")  # noqa: S311 - the same
    return [
        LengthTarget(ref=f"t{place}", length=random.randrange(3_000, 20_000) * step)
        for place in range(count)
    ]
