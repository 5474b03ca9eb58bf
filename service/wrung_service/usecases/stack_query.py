"""A request for stacks, once read."""

from msgspec import Struct

from wrung.answers import Objective, Restriction
from wrung.blocks import Block
from wrung.errors import Fault
from wrung.lengths import Unit
from wrung.metrology import WORST_CASE, Conditions, ErrorMeasure, Overdue, Purpose, RequiredRatio
from wrung.options import Options
from wrung.order import Order
from wrung.preferences import Preference
from wrung.stack_names import Named
from wrung.targets import Target
from wrung_service.usecases.crib_shelf import CribShelf, Window


class StackPurpose(Named, frozen=True, kw_only=True):
    """What a stack must be good enough for."""

    purpose: Purpose


class StackQuery(Struct, frozen=True, kw_only=True):
    """The arguments of `wrung.solve`, and what to say of its stacks; quanta of 0.01 nm.

    Attributes:
        conditions: where, when and how the stacks are used.
        budgets: whether each stack gets its uncertainty budget.
        purposes: what stacks must be good enough for.
        left_out: overdue blocks that may not be used.
        error_measure: what errors are compared by, under those conditions.
        required_ratios: what stacks must keep to count.
        preferences: what decides between plans that are equally good.
        handwork: the unit that the bench reads in, where each stack comes with instructions.
        alternatives: how many next best stacks are asked for; 0 for none.
        trade_off: whether all plans that trade blocks for errors are asked for.
        crib: where the blocks come from a crib, which of them are taken when.
        windows: in this case, for each target in turn when its blocks are needed.
    """

    blocks: tuple[Block, ...]
    targets: tuple[Target, ...]
    objective: Objective
    joint_allowance: int
    exclude: tuple[str, ...]
    only: tuple[str, ...] | None
    time_limit_ms: int
    memory_limit_mb: int
    conditions: Conditions
    budgets: bool
    purposes: tuple[StackPurpose, ...]
    left_out: tuple[Overdue, ...]
    handwork: Unit | None = None
    error_measure: ErrorMeasure = WORST_CASE
    required_ratios: tuple[RequiredRatio, ...] = ()
    preferences: tuple[Preference, ...] = ()
    alternatives: int = 0
    trade_off: bool = False
    crib: CribShelf | None = None
    windows: tuple[Window, ...] = ()


def overdue_ids(query: StackQuery) -> tuple[str, ...]:
    """The ids of the overdue blocks that may not be used."""
    return tuple(block.id for block in query.left_out)


def forbidden_ids(query: StackQuery) -> dict[Restriction, frozenset[str]]:
    """The ids of the blocks that each restriction forbids."""
    by = order_of(query).forbidden()
    restrictions: set[Restriction] = {restriction for each in by.values() for restriction in each}
    return {
        restriction: frozenset(name for name, each in by.items() if restriction in each)
        for restriction in restrictions
    }


def query_faults(query: StackQuery) -> list[Fault]:
    """What `wrung.solve` would refuse in the query, without a search."""
    return order_of(query).faults()


def order_of(query: StackQuery) -> Order:
    """What the query asks for, without what is said of its stacks."""
    return Order(blocks=query.blocks, targets=query.targets, **options_of(query))


def options_of(query: StackQuery) -> Options:
    """The query's options, for whatever takes those of `wrung.solve`."""
    return Options(
        objective=query.objective,
        joint_allowance=query.joint_allowance,
        exclude=query.exclude,
        only=query.only,
        overdue=overdue_ids(query),
        error_measure=query.error_measure,
        required_ratios=query.required_ratios,
        preferences=query.preferences,
    )
