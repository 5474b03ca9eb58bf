"""Down to the number of each class that can be served, by prices alone, held to every plan."""

import random

import pytest

from solver import oracle_engine
from wrung import Block, LengthTarget, mm
from wrung.deadline import Deadline
from wrung.order import Order
from wrung.planning.candidates.goals import BLOCK
from wrung.planning.candidates.stock import by_nominal
from wrung.planning.candidates.workbench import set_up
from wrung.planning.finding import totals
from wrung.planning.objectives.serving import serve
from wrung.planning.problem import Problem, build_problem
from wrung.testing import make_blocks
from wrung.tuning import Tuning

LENGTHS = ("0.5", "1", "1.1", "1.2", "1.3", "2", "3", "5", "7", "10", "11", "13", "20")
# Nothing is known of scarce pieces beforehand.
UNAWARE = Tuning(most_fine_uses=0, most_patterns=0)


def contended(rng: random.Random) -> Problem:
    """A few blocks, and stacks of one to three of them in up to three classes."""
    blocks = make_blocks(" ".join(rng.choices(LENGTHS, k=rng.randint(4, 8))))
    return build_problem(
        Order(
            blocks=blocks,
            targets=[_target(f"t{n}", blocks, rng) for n in range(rng.randint(4, 7))],
            objective="fewest_blocks",
            joint_allowance=mm("0"),
        )
    )


def _target(ref: str, blocks: tuple[Block, ...], rng: random.Random) -> LengthTarget:
    own = rng.sample([block.nominal for block in blocks], rng.randint(1, 3))
    return LengthTarget(ref=ref, length=sum(own), priority=rng.randint(1, 3))


@pytest.mark.parametrize("seed", range(40))
def test_most_of_each_class_are_served_with_the_fewest_blocks(seed: int) -> None:
    problem = contended(random.Random(seed))  # noqa: S311 - no secret
    deadline = Deadline(60_000, tuning=UNAWARE)
    plan = oracle_engine.search(problem, Deadline(60_000)).plan
    assert plan is not None
    best, bench = totals(problem, plan), set_up(problem, by_nominal(problem), deadline)
    assert bench is not None

    served = serve(bench, deadline)

    assert served is not None
    assert (served.count, served.most) == (best.served, best.served)
    assert (served.blocks.value, served.least) == (best.blocks * BLOCK, best.blocks)
