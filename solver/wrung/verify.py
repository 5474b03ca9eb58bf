"""An independent check of an answer: every figure again, by plain arithmetic from the inputs.

Each rule is a function of its own. A rule shares no code with the search; it reads the blocks, the
targets' requirements and the answer. Here are the rules of stacks; those of what is claimed beside
them, see `Breach.claim`, are in verified_claims.py. That nothing better exists cannot be checked in
this way; that the answer does not contradict what it says of its own proof can.
"""

from collections import Counter
from collections.abc import Callable, Collection, Iterator, Sequence
from typing import Final, TypeAlias

from wrung.answers import Answer, Objective
from wrung.arguments import with_tuples
from wrung.blocks import Block
from wrung.checked_types import typed
from wrung.joints import DEFAULT_JOINT_ALLOWANCE
from wrung.metrology.error_measure import WORST_CASE, ErrorMeasure
from wrung.metrology.required_ratio import RequiredRatio
from wrung.targets import Target
from wrung.targets.requirement import WEAR_COUNT
from wrung.verified_angles import verify_cases
from wrung.verified_case import Breach, Case
from wrung.verified_changes import changes_fault
from wrung.verified_claims import ANGLE_CLAIMS, CLAIMS
from wrung.verified_errors import factor_of, keeps_ratio, totals_of, worst_case_error

__all__ = ["Breach", "verify"]


@with_tuples
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
) -> tuple[Breach, ...]:
    """Check an answer against what was asked for; give it the same arguments as `wrung.solve`.

    Returns:
        Every breach found; empty if the answer holds.

    Raises:
        InputError: a block has no usable statement of its error.
    """
    requirements = [r for target in targets for r in target.requirements()]
    case = Case(
        blocks={block.id: block for block in blocks},
        allowed=frozenset(
            block.id
            for block in blocks
            if block.id not in exclude
            and block.id not in overdue
            and (only is None or block.id in only)
        ),
        withheld={
            "exclude": frozenset(exclude),
            "overdue": frozenset(overdue),
            "only": frozenset(
                block.id for block in blocks if only is not None and block.id not in only
            ),
        },
        requirements={requirement.name: requirement for requirement in requirements},
        answer=answer,
        objective=objective,
        joint_allowance=joint_allowance,
        measure=error_measure,
        ratios={each.name: each for each in required_ratios},
    )
    angle_rules = (*_ANGLE_RULES, *ANGLE_CLAIMS)
    return (
        *(breach for rule in (*_RULES, *CLAIMS) for breach in rule(case)),
        *verify_cases(targets, answer, objective, angle_rules),
    )


_Breaches: TypeAlias = Iterator[Breach]


def _refs(case: Case) -> _Breaches:
    """Every target is answered once, by a stack or as unmet, in the order asked for."""
    served = [stack.name for stack in case.answer.stacks]
    unserved = [unmet.name for unmet in case.answer.unmet]
    # Stacks and unmet targets are lists apart, so each has an order of its own.
    for answered in (served, unserved):
        known = [name for name in dict.fromkeys(answered) if name in case.requirements]
        if known != [name for name in case.requirements if name in known]:
            yield Breach(rule="refs", detail="the targets do not stand in the order asked for")
    count = Counter(served + unserved)
    for name in sorted(count.keys() | case.requirements.keys(), key=str):
        if name not in case.requirements:
            yield Breach(rule="refs", name=name, detail="nobody asked for this target")
        elif count[name] != 1:
            yield Breach(rule="refs", name=name, detail=f"it is answered {count[name]} times")


def _lengths(case: Case) -> _Breaches:
    """A stack repeats the length that was asked for."""
    for stack, wanted in case.stacks():
        if stack.length != wanted.length:
            detail = f"the length asked for is {wanted.length}, not {stack.length}"
            yield Breach(rule="lengths", name=stack.name, detail=detail)


def _shelf(case: Case) -> _Breaches:
    """Every block is on the shelf, may be used, and is described as it is."""
    for stack in case.answer.stacks:
        for placed in stack.blocks:
            block = case.blocks.get(placed.id)
            if block is None or placed.id not in case.allowed:
                detail = f"the block {placed.id!r} may not be used"
                yield Breach(rule="shelf", name=stack.name, detail=detail)
            elif placed.nominal not in case.nominals(block) or (placed.role, placed.unit) != (
                block.role,
                block.unit,
            ):
                detail = f"the block {placed.id!r} is described wrongly"
                yield Breach(rule="shelf", name=stack.name, detail=detail)


def _used_once(case: Case) -> _Breaches:
    """A block stands once in a stack, and in no other stack that is needed at the same time."""
    for stack, wanted in case.stacks():
        busy = case.busy(wanted)
        for name, count in Counter(placed.id for placed in stack.blocks).items():
            if count > 1 or name in busy:
                detail = f"the block {name!r} is needed twice at one time"
                yield Breach(rule="used once", name=stack.name, detail=detail)


def _nominal_sums(case: Case) -> _Breaches:
    """The nominal length of a stack is the sum of its blocks' nominal lengths."""
    for stack in case.answer.stacks:
        total = sum(block.nominal for block in case.really(stack))
        if stack.nominal != total:
            detail = f"the blocks add up to {total}, not {stack.nominal}"
            yield Breach(rule="nominal sums", name=stack.name, detail=detail)


def _tolerances(case: Case) -> _Breaches:
    """What the blocks add up to differs from the length by no more than the tolerance."""
    for stack, wanted in case.stacks():
        # By the shelf and the request; what the answer says of its sums is a rule of its own.
        off = sum(block.nominal for block in case.really(stack)) - wanted.length
        if not wanted.tolerance.lower <= off <= wanted.tolerance.upper:
            detail = f"the stack is {off} off the length, outside the tolerance"
            yield Breach(rule="tolerances", name=stack.name, detail=detail)


def _counts(case: Case) -> _Breaches:
    """A stack has a block, no more than allowed, and one joint less than blocks."""
    for stack, wanted in case.stacks():
        count = len(stack.blocks)
        if count < 1 or (wanted.max_blocks is not None and count > wanted.max_blocks):
            detail = f"{count} blocks are not allowed"
            yield Breach(rule="counts", name=stack.name, detail=detail)
        if stack.joints != count - 1:
            detail = f"{count} blocks do not have {stack.joints} joints"
            yield Breach(rule="counts", name=stack.name, detail=detail)


def _wear_blocks(case: Case) -> _Breaches:
    """There are as many wear blocks as asked for, and they are wrung last, onto the outside."""
    for stack, wanted in case.stacks():
        roles = [block.role for block in case.really(stack)]
        if roles.count("wear") != WEAR_COUNT[wanted.wear_blocks]:
            detail = f"{roles.count('wear')} wear blocks are not {wanted.wear_blocks!r}"
            yield Breach(rule="wear blocks", name=stack.name, detail=detail)
        if "gauge" in roles[roles.count("gauge") :]:
            detail = "a wear block is not wrung last"
            yield Breach(rule="wear blocks", name=stack.name, detail=detail)


def _wringing_order(case: Case) -> _Breaches:
    """The longest gauge block is the base, and none is wrung onto a thinner one."""
    for stack in case.answer.stacks:
        gauge = [block.nominal for block in case.really(stack) if block.role == "gauge"]
        if gauge != sorted(gauge, reverse=True):
            detail = "a block stands on a thinner one"
            yield Breach(rule="wringing order", name=stack.name, detail=detail)


def _deviations(case: Case) -> _Breaches:
    """The deviation of a stack is the sum of the certified deviations."""
    for stack in case.answer.stacks:
        total = sum(block.deviation or 0 for block in case.really(stack))
        if stack.deviation != total:
            detail = f"the deviations add up to {total}, not {stack.deviation}"
            yield Breach(rule="deviations", name=stack.name, detail=detail)


def _worst_case_errors(case: Case) -> _Breaches:
    """|nominal + deviations - length| + margins + joints * joint allowance."""
    for stack, wanted in case.stacks():
        error = worst_case_error(case.really(stack), wanted.length, case.joint_allowance)
        if stack.worst_case_error != error:
            detail = f"the worst-case error is {error}, not {stack.worst_case_error}"
            yield Breach(rule="worst-case errors", name=stack.name, detail=detail)


def _totals(case: Case) -> _Breaches:
    """The totals are those of the stacks."""
    # Worked out again even where another rule compares each: totals must not rest on the answer.
    errors = [
        worst_case_error(case.really(s), wanted.length, case.joint_allowance)
        for s, wanted in case.stacks()
    ]
    blocks = sum(len(stack.blocks) for stack in case.answer.stacks)
    if totals_of(case.answer) != (blocks, max(errors, default=0), sum(errors)):
        yield Breach(rule="totals", detail="the totals are not those of the stacks")


def _compared(case: Case) -> _Breaches:
    """What was compared is what was asked for, and its figures are those of the stacks."""
    asked, said = case.measure, case.answer.compared_errors
    if asked.usual:
        if said is not None:
            yield Breach(rule="compared", detail="nothing but the worst-case error was asked for")
        return
    figures = [case.error(stack, wanted) for stack, wanted in case.stacks()]
    if said is None or (said.kind, said.corrected, said.unequal_limits) != (
        asked.kind,
        asked.corrected,
        asked.unequal_limits,
    ):
        yield Breach(rule="compared", detail="it does not compare what was asked for")
    elif (said.largest, said.total) != (max(figures, default=0), sum(figures)):
        yield Breach(rule="compared", detail="the figures compared are not those of the stacks")


def _required_ratios(case: Case) -> _Breaches:
    """A stack keeps the ratio required of it."""
    if not case.ratios:
        return
    # Once for all, as it takes the rows of the whole shelf.
    factor = factor_of([case.blocks[name] for name in sorted(case.allowed)], case.measure)
    for stack, wanted in case.stacks():
        required, error = case.ratios.get(stack.name), case.error(stack, wanted)
        if required and not keeps_ratio(error, required, case.measure, factor):
            detail = f"its tolerance is not {float(required.ratio):.3g} times twice its error"
            yield Breach(rule="required ratios", name=stack.name, detail=detail)


def _changes(case: Case) -> _Breaches:
    """As many blocks change as is said, where stacks follow one another."""
    fault = changes_fault(case.answer, case.requirements)
    if fault is not None:
        yield Breach(rule="changes", detail=fault)


def _objective(case: Case) -> _Breaches:
    """The objective is the one asked for."""
    if case.answer.objective != case.objective:
        detail = f"the objective asked for is {case.objective}, not {case.answer.objective}"
        yield Breach(rule="objective", detail=detail)


_RULES: Final[tuple[Callable[[Case], _Breaches], ...]] = (
    _refs,
    _lengths,
    _shelf,
    _used_once,
    _nominal_sums,
    _tolerances,
    _counts,
    _wear_blocks,
    _wringing_order,
    _deviations,
    _worst_case_errors,
    _totals,
    _compared,
    _required_ratios,
    _changes,
    _objective,
)

_ANGLE_RULES: Final[tuple[Callable[[Case], _Breaches], ...]] = (
    _refs,
    _lengths,
    _shelf,
    _used_once,
    _nominal_sums,
    _tolerances,
    _counts,
    _worst_case_errors,
    _totals,
    _objective,
)
"""What holds of angle blocks, too; they have no wear blocks, and go by no other measure."""
