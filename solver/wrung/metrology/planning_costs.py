"""What each block costs a planner that minimises uncertainty: whole numbers that add.

`wrung.metrology` tells how objectives and constraints are made of them. Standard uncertainties are
in steps of 0.1 nm and variances in steps squared, so that the variance of a long stack of coarse
blocks stays far below 2**63, and below 2**44 for any stack that a shop would wring.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from fractions import Fraction
from functools import lru_cache
from math import ceil, inf, sqrt
from typing import Final

from msgspec import Struct

from wrung.blocks import DEFAULT_JOINT_ALLOWANCE, Block, limits_of, margin
from wrung.checked_types import typed
from wrung.metrology.budget.rows import COMMON, Row
from wrung.metrology.budget.stack import block_rows, joint_value, known_offset
from wrung.metrology.conditions import STANDARD, Conditions
from wrung.metrology.error_measure import QUANTA_A_STEP
from wrung.metrology.student import coverage_factor
from wrung.metrology.uncertainty_ratio import largest_uncertainty

STEPS_A_NM: Final = 10

_MOST_KEPT: Final = 2048
"""Costs of blocks, which a request asks for again and again: some two megabytes."""


class Shared(Struct, frozen=True, kw_only=True):
    """A part of a block's uncertainty that adds linearly to that of others with the same ``of``.

    Attributes:
        of: names what is shared: a certificate's reference, a coefficient, the temperature.
        amount: standard uncertainty in steps of 0.1 nm; the sign matters where signs differ.
    """

    of: str
    amount: int


class BlockCost(Struct, frozen=True, kw_only=True):
    """What one block brings into any stack.

    Attributes:
        plus: how far it may be longer than nominal length plus certified deviation, quanta.
        minus: how far shorter, quanta, as a positive number.
        offset: what it is known to be off its nominal length under the conditions, quanta.
        variance: variance of its own, in steps of 0.1 nm squared; adds.
        shared: what adds linearly with other blocks before it is squared.
        degrees_of_freedom: the fewest of anything that goes into its uncertainty.
    """

    plus: int
    minus: int
    offset: int
    variance: int
    shared: tuple[Shared, ...] = ()
    degrees_of_freedom: float = inf


@lru_cache(maxsize=_MOST_KEPT)
def block_cost(block: Block, conditions: Conditions = STANDARD) -> BlockCost:
    """What the block costs under those conditions.

    Raises:
        InputError: the block has no usable statement of its error, or its material is not known.
    """
    plus, minus = _margins(block)
    own = 0.0
    shared: list[Shared] = []
    rows = tuple(block_rows([block], conditions))
    for row in rows:
        size = row.contribution_nm * STEPS_A_NM
        name, given = _sharing(row, conditions.correlation)
        # Independent parts add as squares; shared ones first add as they are, with signs.
        own += size * size * (1 - given)
        if given and size:
            shared.append(Shared(of=name, amount=round(size * sqrt(given))))
    return BlockCost(
        plus=plus,
        minus=minus,
        offset=round(known_offset([block], conditions)),
        # Up, to err on the safe side of a figure that is promised.
        variance=ceil(own),
        shared=tuple(shared),
        degrees_of_freedom=min((row.degrees_of_freedom for row in rows), default=inf),
    )


@typed
def variance_of(block: Block, conditions: Conditions = STANDARD) -> int:
    """The block's variance where nothing is shared, in steps of 0.1 nm squared.

    The sum over a stack is its variance if certificates count as independent and everything is at
    20 °C; where something is shared, it is too small for stacks of several blocks.

    Raises:
        InputError: as `block_cost`.
    """
    cost = block_cost(block, conditions)
    return cost.variance + sum(part.amount**2 for part in cost.shared)


@typed
def joint_variance(
    conditions: Conditions = STANDARD, joint_allowance: int = DEFAULT_JOINT_ALLOWANCE
) -> int:
    """Variance of one joint, in steps of 0.1 nm squared."""
    return ceil((joint_value(conditions, joint_allowance).uncertainty * STEPS_A_NM) ** 2)


@typed
def fixed_variance(conditions: Conditions = STANDARD) -> int:
    """Variance that every stack has alike, in steps of 0.1 nm squared."""
    return ceil(sum((extra.value.uncertainty * STEPS_A_NM) ** 2 for extra in conditions.extras))


@typed
def stack_variance(costs: Sequence[BlockCost], *, joint: int, fixed: int = 0) -> int:
    """The variance of a stack, in steps of 0.1 nm squared: what a planner may minimise exactly.

    Args:
        costs: of its blocks.
        joint: variance of a joint.
        fixed: variance that every stack has.
    """
    own = sum(cost.variance for cost in costs)
    totals: defaultdict[str, int] = defaultdict(int)
    for cost in costs:
        for part in cost.shared:
            totals[part.of] += part.amount
    joints = max(len(costs) - 1, 0) * joint
    return own + joints + fixed + sum(total**2 for total in totals.values())


@typed
def most_variance(width: int, ratio: Fraction, factor: float) -> int:
    """The most variance, in steps squared, with which a corrected stack keeps a required ratio.

    Args:
        width: of the part's tolerance, upper less lower limit, quanta.
        ratio: smallest allowed test uncertainty ratio.
        factor: coverage factor; see `safe_factor`.
    """
    largest = float(largest_uncertainty(width, ratio)) / QUANTA_A_STEP
    # Down, on the safe side of a limit.
    return int((largest / factor) ** 2)


@typed
def safe_factor(blocks: Iterable[Block], conditions: Conditions = STANDARD) -> float:
    """A coverage factor that no stack of these blocks exceeds.

    Effective degrees of freedom by Welch and Satterthwaite are never fewer than the fewest that go
    in (GUM G.4.1), so that these give the largest factor.

    Raises:
        InputError: as `block_cost`.
    """
    beside = (joint_value(conditions, 0), *(extra.value for extra in conditions.extras))
    freedoms = [block_cost(block, conditions).degrees_of_freedom for block in blocks]
    freedoms.extend(value.degrees_of_freedom for value in beside)
    return coverage_factor(conditions.coverage_probability, min(freedoms))


def _margins(block: Block) -> tuple[int, int]:
    if block.certified:
        return margin(block), margin(block)
    allowed = limits_of(block)
    # Old grades allow more above than below, so both sides are kept apart.
    return allowed.upper, -allowed.lower


def _sharing(row: Row, correlation: float) -> tuple[str, float]:
    """What a row shares with rows of other blocks, and the share of its variance that is so."""
    if row.kind in COMMON:
        return f"{row.kind} {row.subject}", 1.0
    return f"certificate {row.certificate}", 0.0 if row.certificate is None else correlation
