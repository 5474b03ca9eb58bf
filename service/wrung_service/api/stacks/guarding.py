"""Guard bands by the uncertainty that stacks turn out to have: what has to be asked again.

Which blocks a stack has depends on its length, its uncertainty on the blocks, and its length on the
uncertainty. So the question is asked again with a wider guard band until that is wide enough. Where
the shelf cannot make the lengths that it rounds to, as with one block for half a micrometre and two
stacks that need it, the next ones further inside are tried.
"""

from typing import Final

import msgspec
from msgspec import Raw, Struct
from msgspec.structs import replace

from wrung.lengths import SMALL_UNIT, Unit, to_text
from wrung.targets.limit_pair import LimitPairTarget
from wrung.targets.limit_results import LimitPairResult, LimitsOfSize
from wrung_service.api.stacks.reading import StackReading
from wrung_service.api.stacks.request import StackRequest
from wrung_service.usecases.solve_stacks import SolvedStacks

MOST_ROUNDS: Final = 4
"""How often a question is asked at most; each round needs blocks less sure than those before."""


def may_ask_again(body: StackRequest) -> bool:
    """Whether a target has its guard band found."""
    return any(_is_guarded(target) for target in body.targets)


def with_wider_guards(
    reading: StackReading, solved: SolvedStacks, *, further: int = 0
) -> StackRequest | None:
    """The request with guard bands as wide as the stacks need; None where all are wide enough.

    Args:
        reading: the request as it was read.
        solved: its stacks.
        further: by how many steps of `rounded_to` they are wider than that.
    """
    body = reading.body
    limits = {each.target: each.limits for each in _limit_pairs(solved)}
    steps = {
        each.ref: each.rounded_to or 0
        for each in reading.query.targets
        if isinstance(each, LimitPairTarget)
    }
    targets = tuple(
        _wider(target, limits.get(target.ref), further * steps.get(target.ref, 0), body.unit)
        for target in body.targets
    )
    return None if targets == body.targets else replace(body, targets=targets)


def _limit_pairs(solved: SolvedStacks) -> list[LimitPairResult]:
    return [each for each in solved.results if isinstance(each, LimitPairResult)]


def _is_guarded(target: Struct) -> bool:
    return bool(getattr(target, "guard_by_uncertainty", False))


def _wider(target: Struct, limits: LimitsOfSize | None, more: int, unit: Unit) -> Struct:
    if limits is None or not _is_guarded(target) or limits.guard_covers_uncertainty is not False:
        return target
    text = to_text((limits.largest_uncertainty or 0) + more, SMALL_UNIT[unit])
    return replace(target, guard_band=Raw(msgspec.json.encode(text)))
