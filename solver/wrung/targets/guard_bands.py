"""Guard bands by the uncertainty that stacks turn out to have: what has to be asked again.

Which blocks a stack has depends on its length, its uncertainty on the blocks, and its length on the
uncertainty. So the question is asked again with a wider guard band until that is wide enough. Where
the shelf cannot make the lengths that it rounds to, as with one block for half a micrometre and two
stacks that need it, the next ones further inside are tried.
"""

from collections.abc import Callable, Iterable, Sequence
from typing import Final, Protocol, TypeVar

from msgspec.structs import replace

from wrung.answers import Answer
from wrung.errors import InputError
from wrung.targets import Target, TargetResult
from wrung.targets.limit_pair import LimitPairTarget
from wrung.targets.limit_results import LimitPairResult, LimitsOfSize

_MOST_ROUNDS: Final = 4
"""How often a question is asked at most; each round needs blocks less sure than those before."""


class Planned(Protocol):
    """A plan, and what its stacks come to in the terms of their trades."""

    @property
    def answer(self) -> Answer:
        """The plan."""
        ...

    @property
    def results(self) -> tuple[TargetResult, ...]:
        """One for each pair of limits at least."""
        ...


PlannedT = TypeVar("PlannedT", bound=Planned)


def with_guard_bands(
    targets: Sequence[Target],
    ask: Callable[[Sequence[Target], float], PlannedT],
    *,
    ends_with: tuple[type[Exception], ...] = (),
) -> tuple[tuple[Target, ...], PlannedT]:
    """Ask until the guard bands cover the uncertainty; the last targets, and what came of them.

    Args:
        targets: as they were asked for.
        ask: makes a plan for targets; it may take that share of the time that is left.
        ends_with: what it raises where no round can follow; in the first one it is raised.
    """
    wanted = tuple(targets)
    # The guard band leaves nothing of the tolerance, or there is no time to search.
    no_further: tuple[type[Exception], ...] = (InputError, *ends_with)
    rounds = _MOST_ROUNDS if any(map(_is_guarded, wanted)) else 1
    found, further = ask(wanted, 1 / rounds), 0
    for left in range(rounds - 1, 0, -1):
        wider = _with_wider_guards(wanted, found.results, further)
        if wider == wanted:
            break
        try:
            beyond = ask(wider, 1 / left)
        except no_further:
            break
        # Nobody gets fewer stacks for it; that some are not sure enough is in the results.
        if len(beyond.answer.stacks) < len(found.answer.stacks):
            further += 1
        else:
            wanted, found, further = wider, beyond, 0
    return wanted, found


def _with_wider_guards(
    targets: Iterable[Target], said: Iterable[TargetResult], further: int
) -> tuple[Target, ...]:
    """As wide as the stacks need, and so many steps of `rounded_to` further where they are not."""
    limits_of = {each.target: each.limits for each in said if isinstance(each, LimitPairResult)}
    return tuple(_wider(target, limits_of.get(target.ref), further) for target in targets)


def _wider(target: Target, found: LimitsOfSize | None, further: int) -> Target:
    if not isinstance(target, LimitPairTarget) or not target.guard_by_uncertainty:
        return target
    if found is None or found.guard_covers_uncertainty is not False:
        return target
    more = further * (target.rounded_to or 0)
    return replace(target, guard_band=(found.largest_uncertainty or 0) + more)


def _is_guarded(target: Target) -> bool:
    return isinstance(target, LimitPairTarget) and target.guard_by_uncertainty
