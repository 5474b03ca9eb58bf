"""The checker's look at angle blocks: each case by the same rules, with blocks of either sign."""

from collections.abc import Callable, Iterator, Sequence
from typing import TypeAlias

from wrung.answers import Answer, Objective
from wrung.checker.case import Breach, Case, claim
from wrung.metrology.error_measure import WORST_CASE
from wrung.targets import Target
from wrung.targets.angle_cases import AngleCase, angle_cases

_Rule: TypeAlias = Callable[[Case], Iterator[Breach]]


def verify_cases(
    targets: Sequence[Target], answer: Answer, objective: Objective, rules: Sequence[_Rule]
) -> Iterator[Breach]:
    """The breaches of the plans for angle blocks, and of what the answer makes of them."""
    wanted = angle_cases(targets)
    if [case.name for case in wanted] != [each.case for each in answer.cases]:
        yield Breach(rule="cases", detail="the plans are not those of the cases asked for")
        return
    for case, planned in zip(wanted, answer.cases, strict=True):
        checked = _case(case, planned.plan, objective)
        yield from (breach for rule in rules for breach in rule(checked))
    yield from _proofs(answer)


def _case(case: AngleCase, plan: Answer, objective: Objective) -> Case:
    requirements = [target.angle_requirement() for target in case.targets]
    return Case(
        blocks={block.id: block for block in case.blocks},
        allowed=frozenset(block.id for block in case.blocks),
        requirements={requirement.name: requirement for requirement in requirements},
        answer=plan,
        objective=objective,
        joint_allowance=0,
        measure=WORST_CASE,
        ratios={},
        signed=True,
    )


def _proofs(answer: Answer) -> Iterator[Breach]:
    """The answer as a whole claims no proof that the plan of some case lacks."""
    for each in answer.cases:
        plan = each.plan
        better_unknown = answer.objective_proven and not plan.objective_proven
        more_unknown = answer.proven and bool(plan.unmet) and not plan.proven
        if better_unknown or more_unknown:
            detail = f"the plan of the case {each.case!r} is not proven"
            yield claim(rule="proofs", detail=detail)
