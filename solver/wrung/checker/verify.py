"""Whether a plan of stacks holds: all rules, one after another.

Each case of angle blocks is looked at by the same rules, with blocks of either sign.
"""

from collections.abc import Callable, Collection, Iterator, Sequence
from typing import Final, TypeAlias

from wrung.answers import Answer, Objective
from wrung.blocks import DEFAULT_JOINT_ALLOWANCE, Block, by_id
from wrung.checked_types import typed
from wrung.checker.case import Breach, Case, Found
from wrung.checker.claims import proofs, reasons, scarce
from wrung.checker.rules import figures, stacks
from wrung.checker.rules import preferences as preferred
from wrung.metrology.error_measure import WORST_CASE, ErrorMeasure, RequiredRatio
from wrung.preferences import Preference
from wrung.targets import Target
from wrung.targets.angle_cases import AngleCase, angle_cases

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
    return (*_breaches(case), *_case_breaches(targets, answer, objective))


def _case_breaches(
    targets: Sequence[Target], answer: Answer, objective: Objective
) -> Iterator[Breach]:
    """The breaches of the plans for angle blocks, and of what the answer makes of them."""
    wanted = angle_cases(targets)
    if [case.name for case in wanted] != [each.case for each in answer.cases]:
        yield Breach(rule="cases", detail="the plans are not those of the cases asked for")
        return
    for case, planned in zip(wanted, answer.cases, strict=True):
        yield from _breaches(_angle_case(case, planned.plan, objective))
    for each in answer.cases:
        plan = each.plan
        # The answer as a whole claims no proof that the plan of some case lacks.
        better_unknown = answer.objective_proven and not plan.objective_proven
        more_unknown = answer.proven and bool(plan.unmet) and not plan.proven
        if better_unknown or more_unknown:
            detail = f"the plan of the case {each.case!r} is not proven"
            yield Breach(rule="proofs", detail=detail, claim=True)


def _angle_case(case: AngleCase, plan: Answer, objective: Objective) -> Case:
    requirements = [target.angle_requirement() for target in case.targets]
    return Case(
        blocks=by_id(case.blocks),
        allowed=frozenset(block.id for block in case.blocks),
        requirements={requirement.name: requirement for requirement in requirements},
        answer=plan,
        objective=objective,
        joint_allowance=0,
        measure=WORST_CASE,
        ratios={},
        signed=True,
    )


def _breaches(case: Case) -> Iterator[Breach]:
    for rules, claim in ((_RULES, False), (_CLAIMS, True)):
        for rule, check in rules:
            if not (case.signed and rule in _NOT_OF_ANGLES):
                for name, detail in check(case):
                    yield Breach(rule=rule, name=name, detail=detail, claim=claim)


_Rules: TypeAlias = tuple[tuple[str, Callable[[Case], Iterator[Found]]], ...]

_RULES: Final[_Rules] = (
    ("refs", stacks.refs),
    ("lengths", stacks.lengths),
    ("shelf", stacks.shelf),
    ("used once", stacks.used_once),
    ("nominal sums", stacks.nominal_sums),
    ("tolerances", stacks.tolerances),
    ("counts", stacks.counts),
    ("wear blocks", stacks.wear_blocks),
    ("steps", stacks.steps),
    ("wringing order", stacks.wringing_order),
    ("deviations", figures.deviations),
    ("worst-case errors", figures.worst_case_errors),
    ("totals", figures.totals),
    ("compared", figures.compared),
    ("required ratios", figures.required_ratios),
    ("changes", preferred.changes),
    ("preferences", preferred.values),
    ("objective", stacks.objective),
)
_CLAIMS: Final[_Rules] = (
    ("changes bound", preferred.changes_bound),
    ("preference bounds", preferred.bounds),
    ("outcome", proofs.outcome),
    ("served bound", proofs.served_bound),
    ("priorities", proofs.priorities),
    ("objective bounds", proofs.objective_bounds),
    ("nearest lengths", reasons.nearest_lengths),
    ("remedies", reasons.remedies),
    ("shortage", reasons.shortage),
    ("holders", reasons.holders),
    ("scarce blocks", scarce.scarce_blocks),
)
"""What is claimed beside the stacks."""
_NOT_OF_ANGLES: Final = frozenset(
    {
        *("wear blocks", "wringing order", "deviations", "compared", "required ratios"),
        *("changes", "preferences", "changes bound", "preference bounds", "scarce blocks"),
    }
)
"""Angle blocks have no wear blocks, go by no other measure, and none of them is preferred."""
