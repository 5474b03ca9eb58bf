"""The main job against HiGHS, an independent open-source MILP solver (highs.dev, MIT licence).

The programme below is written down from the wording of the contract: as many targets as possible,
then the values of the objective in their order. It knows nothing of the library's models. Shelves
are drawn from published compositions, see test_composition_tables.py for these; deviations, limits
and targets are invented, seeded and repeatable.
"""

import random
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from itertools import combinations
from typing import TypeAlias

import highspy
import pytest
from msgspec import Struct

from wrung import Block, LengthTarget, Objective, Role, Tolerance, WearBlocks, composition, solve
from wrung.deadline import Deadline
from wrung.lengths import QUANTA, Unit
from wrung.order import Order
from wrung.planning import direct
from wrung.planning.finding import totals
from wrung.planning.problem import build_problem

REQUESTS = 200
AMPLE_MS = 60_000
FAR = 10**6
"""Steps that no sum of nominals is off its target."""
BEGIN = datetime(2031, 3, 3, 6, tzinfo=UTC)
WEAR: dict[WearBlocks, int] = {"none": 0, "one": 1, "both": 2}

# The finest step of each set. Errors are whole tenths of a µin or hundredths of a µm, joints too.
STEPS = {
    "inch-81": QUANTA["in"] // 10_000,
    "inch-36": QUANTA["in"] // 10_000,
    "metric-112-1": QUANTA["mm"] // 2_000,
    "metric-47-a": QUANTA["mm"] // 200,
    "metric-87-a": QUANTA["mm"] // 1_000,
}
FINE: dict[Unit, int] = {"in": QUANTA["uin"] // 10, "mm": QUANTA["um"] // 100}

Linear: TypeAlias = highspy.highs.highs_linear_expression


class Request(Struct, frozen=True, kw_only=True):
    """The arguments of `wrung.solve`; ``step`` and ``fine`` divide its lengths and its errors."""

    blocks: tuple[Block, ...]
    targets: tuple[LengthTarget, ...]
    objective: Objective
    joint_allowance: int
    step: int
    fine: int


class Values(Struct, frozen=True, kw_only=True):
    """What a plan reaches; errors in quanta."""

    served: int
    blocks: int
    largest_error: int
    total_error: int


@pytest.mark.parametrize("seed", range(REQUESTS))
def test_a_mixed_integer_programme_finds_plans_as_good(seed: int) -> None:
    """The same number served and the same values, by the direct engine and by the whole library."""
    request = drawn(random.Random(seed))  # noqa: S311 -- repeatable, nothing secret
    expected = Programme(request).best()

    assert by_the_direct_engine(request) == expected
    assert by_the_library(request) == expected


def by_the_direct_engine(request: Request) -> Values:
    problem = build_problem(
        Order(
            blocks=request.blocks,
            targets=request.targets,
            objective=request.objective,
            joint_allowance=request.joint_allowance,
        )
    )
    plan = direct.search(problem, Deadline(AMPLE_MS)).plan
    assert plan is not None
    reached = totals(problem, plan)
    return Values(
        served=sum(reached.served),
        blocks=reached.blocks,
        largest_error=reached.largest_error,
        total_error=reached.total_error,
    )


def by_the_library(request: Request) -> Values:
    answer = solve(
        request.blocks,
        request.targets,
        objective=request.objective,
        joint_allowance=request.joint_allowance,
        time_limit_ms=AMPLE_MS,
    )
    return Values(
        served=len(answer.stacks),
        blocks=answer.total_blocks,
        largest_error=answer.largest_worst_case_error,
        total_error=answer.total_worst_case_error,
    )


class Programme:
    """A 0-1 variable for each target and block, one for each target, and the errors."""

    def __init__(self, request: Request) -> None:
        self.request = request
        self.solver = highspy.Highs()  # type: ignore[no-untyped-call]  # has no type information
        self.solver.silent()
        # Values are whole numbers: a plan within half of one of the bound is the best.
        self.solver.setOptionValue("mip_rel_gap", 0.0)
        self.solver.setOptionValue("mip_abs_gap", 0.5)
        self.served = [self.solver.addBinary() for _ in request.targets]
        self.uses = [[self.solver.addBinary() for _ in request.blocks] for _ in request.targets]
        # Sums of nominals less targets, in steps: beside whole lengths an error would drown in the
        # solver's tolerance of a millionth.
        self.off = [self.solver.addIntegral(lb=-FAR, ub=FAR) for _ in request.targets]
        self.errors = [self.solver.addIntegral() for _ in request.targets]
        self.largest = self.solver.addIntegral()
        for index in range(len(request.targets)):
            self.build(index)
            self.bound_the_error(index)
        self.use_no_block_twice_at_a_time()

    def best(self) -> Values:
        """Settle one value after another, each within what the ones before it allow."""
        served = -self.settle(self.weighted(self.served, [-1] * len(self.served)))
        uses = [use for row in self.uses for use in row]
        sums = {
            "blocks": self.weighted(uses, [1] * len(uses)),
            "largest": self.weighted([self.largest], [1]),
            "total": self.weighted(self.errors, [1] * len(self.errors)),
        }
        names = ["largest", "total"]
        names.insert(0 if self.request.objective == "fewest_blocks" else 2, "blocks")
        values = {name: self.settle(sums[name]) for name in names}
        return Values(
            served=served,
            blocks=values["blocks"],
            largest_error=values["largest"] * self.request.fine,
            total_error=values["total"] * self.request.fine,
        )

    def build(self, index: int) -> None:
        """Length in tolerance; the wear blocks asked for; as many blocks as allowed, and one."""
        target, served, uses = self.request.targets[index], self.served[index], self.uses[index]
        blocks, step = self.request.blocks, self.request.step
        lower, upper = target.tolerance.lower // step, target.tolerance.upper // step
        length = self.weighted(uses, [block.nominal // step for block in blocks])
        self.solver.addConstr(length - target.length // step * served - self.off[index] == 0)
        self.solver.addConstr(self.off[index] - lower * served >= 0)
        self.solver.addConstr(self.off[index] - upper * served <= 0)
        worn = self.weighted(uses, [int(block.role == "wear") for block in blocks])
        self.solver.addConstr(worn - WEAR[target.wear_blocks] * served == 0)
        count = self.weighted(uses, [1] * len(uses))
        self.solver.addConstr(count - served >= 0)
        self.solver.addConstr(count - (target.max_blocks or len(uses)) * served <= 0)

    def bound_the_error(self, index: int) -> None:
        """|sum of nominals and deviations - target| + margins + (blocks - 1) * joint allowance."""
        request, served, uses = self.request, self.served[index], self.uses[index]
        joint = request.joint_allowance // request.fine
        margins = [_margin(block) // request.fine + joint for block in request.blocks]
        deviations = [(block.deviation or 0) // request.fine for block in request.blocks]
        spread = self.weighted(uses, margins) - joint * served
        off = request.step // request.fine * self.off[index] + self.weighted(uses, deviations)
        self.solver.addConstr(self.errors[index] - spread - off >= 0)
        self.solver.addConstr(self.errors[index] - spread + off >= 0)
        self.solver.addConstr(self.largest - self.errors[index] >= 0)

    def use_no_block_twice_at_a_time(self) -> None:
        for one, other in combinations(range(len(self.uses)), 2):
            if _overlap(self.request.targets[one], self.request.targets[other]):
                for use, another in zip(self.uses[one], self.uses[other], strict=True):
                    self.solver.addConstr(use + another <= 1)

    def settle(self, value: Linear) -> int:
        """The least it can be; it stays so."""
        self.solver.minimize(value)
        assert self.solver.getModelStatus() == highspy.HighsModelStatus.kOptimal
        least = round(self.solver.getInfo().objective_function_value)
        self.solver.addConstr(value <= least)
        return least

    @staticmethod
    def weighted(variables: Sequence[highspy.highs.highs_var], by: Sequence[int]) -> Linear:
        return highspy.Highs.qsum(
            weight * variable for variable, weight in zip(variables, by, strict=True)
        )


def drawn(rng: random.Random) -> Request:
    """Some blocks of one set, sometimes with wear blocks, and lengths that they often build."""
    name = rng.choice(sorted(STEPS))
    unit = composition(name).unit
    step = STEPS[name]
    nominals = sorted(rng.sample(composition(name).nominals, rng.randint(6, 14)))
    worn = rng.choice([0, 0, 0, 1, 2])
    pair = step * 2_000 if unit == "mm" else step * 500
    blocks = [
        *(_block(rng, f"b{k}", nominal, unit, "gauge") for k, nominal in enumerate(nominals)),
        *(_block(rng, f"w{k}", pair, unit, "wear") for k in range(worn)),
    ]
    return Request(
        blocks=tuple(blocks),
        targets=tuple(_target(rng, f"t{k}", blocks, step) for k in range(rng.randint(1, 3))),
        objective=rng.choice(["fewest_blocks", "least_error"]),
        joint_allowance=rng.choice([0, 5, 10]) * FINE[unit],
        step=step,
        fine=FINE[unit],
    )


def _block(rng: random.Random, name: str, nominal: int, unit: Unit, role: Role) -> Block:
    fine = FINE[unit]
    if rng.random() < 0.5:
        limit = rng.randint(5, 60) * fine
        return Block(id=name, nominal=nominal, limit_deviation=limit, role=role, unit=unit)
    return Block(
        id=name,
        nominal=nominal,
        deviation=rng.randint(-60, 60) * fine,
        expanded_uncertainty=rng.randint(10, 30) * fine,
        role=role,
        unit=unit,
    )


def _target(rng: random.Random, ref: str, blocks: Sequence[Block], step: int) -> LengthTarget:
    gauge = [block.nominal for block in blocks if block.role == "gauge"]
    worn = [block.nominal for block in blocks if block.role == "wear"]
    wanted: list[WearBlocks] = ["none", "one", "both"]
    wear = rng.choice(wanted[: len(worn) + 1])
    built = sum(rng.sample(gauge, rng.randint(1, 4))) + sum(worn[: WEAR[wear]])
    begin = rng.choice([None, None, BEGIN, BEGIN + timedelta(hours=2)])
    width = rng.choice([0, 0, 0, 1, 20])
    return LengthTarget(
        ref=ref,
        length=built + rng.choice([0, 0, 0, 0, 1]) * step,
        tolerance=Tolerance(lower=-width * step, upper=rng.choice([0, width]) * step),
        max_blocks=rng.choice([None, None, 2, 3, 4]),
        wear_blocks=wear,
        needed_from=begin,
        needed_until=None if begin is None else begin + timedelta(hours=rng.choice([1, 2, 3])),
    )


def _margin(block: Block) -> int:
    if block.expanded_uncertainty is not None:
        return block.expanded_uncertainty
    assert block.limit_deviation is not None
    return block.limit_deviation


def _overlap(one: LengthTarget, other: LengthTarget) -> bool:
    return _begins_before_the_end(one, other) and _begins_before_the_end(other, one)


def _begins_before_the_end(one: LengthTarget, other: LengthTarget) -> bool:
    if one.needed_from is None or other.needed_until is None:
        return True
    return one.needed_from < other.needed_until
