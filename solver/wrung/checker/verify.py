"""Whether a plan of stacks holds: all rules, one after another."""

from collections.abc import Callable, Collection, Iterator, Sequence
from typing import Final, TypeAlias

from wrung.answers import Answer, Objective
from wrung.blocks import Block, by_id
from wrung.checked_types import typed
from wrung.checker.angles import verify_cases
from wrung.checker.case import Breach, Case
from wrung.checker.claims import proofs, reasons, scarce
from wrung.checker.rules import asked, figures, lengths, shelf
from wrung.checker.rules import blocks as stack_blocks
from wrung.checker.rules import preferences as preferences_rules
from wrung.joints import DEFAULT_JOINT_ALLOWANCE
from wrung.metrology.error_measure import WORST_CASE, ErrorMeasure
from wrung.metrology.required_ratio import RequiredRatio
from wrung.preferences import Preference
from wrung.targets import Target

__all__ = ["Breach", "verify"]


@typed
def verify(  # noqa: PLR0913 -- the options of `solve`, which it checks
    blocks: Sequence[Block],
    targets: Sequence[Target],
    answer: Answer,
    *,
    objective: Objective = "fewest_blocks",
    joint_allowance: int = DEFAULT_JOINT_ALLOWANCE,
    exclude: Collection[str] = (),
    only: Collection[str] | None = None,
    overdue: Collection[str] = (),
    error_measure: ErrorMeasure = WORST_CASE,
    required_ratios: Sequence[RequiredRatio] = (),
    preferences: Sequence[Preference] = (),
) -> tuple[Breach, ...]:
    """Check an answer against what was asked for; give it the same arguments as `wrung.solve`.

    Returns:
        Every breach found; empty if the answer holds.

    Raises:
        InputError: a block has no usable statement of its error.
    """
    requirements = [r for target in targets for r in target.requirements()]
    listed = by_id(blocks)
    passed_over = frozenset[str]() if only is None else frozenset(listed).difference(only)
    case = Case(
        blocks=listed,
        allowed=frozenset(listed).difference(exclude, overdue, passed_over),
        withheld={
            "exclude": frozenset(exclude),
            "overdue": frozenset(overdue),
            "only": passed_over,
        },
        requirements={requirement.name: requirement for requirement in requirements},
        answer=answer,
        objective=objective,
        joint_allowance=joint_allowance,
        measure=error_measure,
        ratios={each.name: each for each in required_ratios},
        preferences=tuple(preferences),
    )
    return (
        *(breach for rule in _RULES for breach in rule(case)),
        *verify_cases(targets, answer, objective, _RULES_OF_ANGLES),
    )


_Rule: TypeAlias = Callable[[Case], Iterator[Breach]]

_RULES: Final[tuple[_Rule, ...]] = (
    asked.refs,
    lengths.lengths,
    shelf.shelf,
    shelf.used_once,
    lengths.nominal_sums,
    lengths.tolerances,
    stack_blocks.counts,
    stack_blocks.wear_blocks,
    stack_blocks.steps,
    stack_blocks.wringing_order,
    figures.deviations,
    figures.worst_case_errors,
    figures.totals,
    figures.compared,
    figures.required_ratios,
    stack_blocks.changes,
    preferences_rules.values,
    asked.objective,
    # What is claimed beside the stacks.
    proofs.changes_bound,
    preferences_rules.bounds,
    proofs.outcome,
    proofs.served_bound,
    proofs.priorities,
    proofs.objective_bounds,
    reasons.nearest_lengths,
    reasons.remedies,
    reasons.shortage,
    reasons.holders,
    scarce.scarce_blocks,
)
_NOT_OF_ANGLES: Final[frozenset[_Rule]] = frozenset(
    (
        stack_blocks.wear_blocks,
        stack_blocks.wringing_order,
        figures.deviations,
        figures.compared,
        figures.required_ratios,
        stack_blocks.changes,
        preferences_rules.values,
        proofs.changes_bound,
        preferences_rules.bounds,
        scarce.scarce_blocks,
    )
)
"""Angle blocks have no wear blocks, go by no other measure, and none of them is preferred."""
_RULES_OF_ANGLES: Final = tuple(rule for rule in _RULES if rule not in _NOT_OF_ANGLES)
