"""The direct model with pieces that subtract: alike blocks, unlike margins."""

from hypothesis import given, settings
from hypothesis import strategies as st

from solver.angle_oracle import best_values
from wrung import Block
from wrung.answers import Objective
from wrung.deadline import Deadline
from wrung.planning import direct, engine
from wrung.planning.angle_problem import case_problem
from wrung.planning.finding import totals
from wrung.targets import AngleBlocksTarget
from wrung.targets.angle_cases import AngleCase


def case(nominals: list[int], limits: list[int], targets: list[tuple[int, int, int]]) -> AngleCase:
    """Blocks by nominal and limit, and targets by angle, what they may be off, and most blocks."""
    blocks = enumerate(zip(nominals, limits, strict=False))
    return AngleCase(
        name="case",
        blocks=tuple(Block(id=f"b{k}", nominal=n, limit_deviation=e) for k, (n, e) in blocks),
        targets=tuple(
            AngleBlocksTarget(
                ref=f"t{k}", angle=a, max_angle_error=w, max_blocks=m, composition="angle-16"
            )
            for k, (a, w, m) in enumerate(targets)
        ),
    )


NOMINALS = st.lists(st.integers(1, 9), min_size=1, max_size=5)
LIMITS = st.lists(st.integers(0, 3), min_size=5, max_size=5)
TARGETS = st.lists(
    st.tuples(st.integers(1, 15), st.integers(0, 3), st.integers(1, 4)), min_size=1, max_size=3
)


@settings(max_examples=80, deadline=None)
@given(NOMINALS, LIMITS, TARGETS, st.sampled_from(("fewest_blocks", "least_error")))
def test_its_plans_are_as_good_as_those_of_an_exhaustive_search(
    nominals: list[int],
    limits: list[int],
    targets: list[tuple[int, int, int]],
    objective: Objective,
) -> None:
    """Blocks of one nominal angle, alike or not, are told apart only where they differ."""
    shared = case(nominals, limits, targets)
    problem = case_problem(shared, objective)

    finding = direct.search(problem, Deadline(60_000))

    assert finding.objective_proven
    assert finding.plan is not None
    of = totals(problem, finding.plan)
    errors = (of.largest_error, of.total_error)
    goals = (of.blocks, *errors) if objective == "fewest_blocks" else (*errors, of.blocks)
    assert (len(targets) - sum(of.served), *goals) == best_values(shared, objective)
    used = [problem.pieces[piece].block.id for stack in finding.plan for piece in stack or ()]
    assert len(used) == len(set(used))


def test_the_engine_of_candidates_passes() -> None:
    problem = case_problem(case([3, 1], [0, 0], [(2, 0, 2)]), "fewest_blocks")

    assert problem.signed
    assert engine.search(problem, Deadline(60_000)) is None
