"""The main job where guard bands have to be found: see `wrung.targets.guard_bands`."""

from collections.abc import Sequence
from typing import Final, Unpack

from msgspec import Struct

from wrung.answers import Answer
from wrung.blocks import DEFAULT_JOINT_ALLOWANCE, Block
from wrung.checked_types import typed
from wrung.deadline import Cancel, limits
from wrung.memory import DEFAULT_MEMORY_MB
from wrung.metrology.conditions import STANDARD, Conditions
from wrung.options import Options
from wrung.planning.solve import solve
from wrung.targets import Target, TargetResult, results
from wrung.targets.guard_bands import with_guard_bands
from wrung.targets.limit_pair import LimitPairTarget

_LEAST_MS: Final = 1.0


class GuardedAnswer(Struct, frozen=True, kw_only=True):
    """An answer, and the targets as it answers them.

    Attributes:
        targets: as given, with the guard bands that were found; for whatever takes the answer.
        answer: what `wrung.solve` says to them.
    """

    targets: tuple[Target, ...]
    answer: Answer


class _Round(Struct, frozen=True, kw_only=True):
    answer: Answer
    results: tuple[TargetResult, ...]


@typed
def solve_with_guard_bands(  # noqa: PLR0913 -- as `solve`, and where the stacks are used
    blocks: Sequence[Block],
    targets: Sequence[Target],
    *,
    conditions: Conditions = STANDARD,
    time_limit_ms: float = 2000,
    memory_limit_mb: float = DEFAULT_MEMORY_MB,
    cancel: Cancel | None = None,
    **options: Unpack[Options],
) -> GuardedAnswer:
    """As `wrung.solve`, and find the guard bands of targets with ``guard_by_uncertainty``.

    Args:
        blocks: as for `wrung.solve`.
        targets: as for it.
        conditions: where, when and how the stacks are used, which their uncertainty depends on.
        time_limit_ms: for the whole call, ms. Where it ends before a guard band is wide enough,
            `wrung.targets.results` has a remark that says so.
        memory_limit_mb: as for `wrung.solve`.
        cancel: as for it.
        options: all others as given to it.

    Raises:
        InputError: as `wrung.solve`; the conditions make no sense.
    """
    deadline = limits(time_limit_ms, cancel, memory_limit_mb)
    allowance = options.get("joint_allowance", DEFAULT_JOINT_ALLOWANCE)

    def ask(wanted: Sequence[Target], share: float) -> _Round:
        found = solve(
            blocks,
            wanted,
            time_limit_ms=max(deadline.remaining * 1000 * share, _LEAST_MS),
            memory_limit_mb=memory_limit_mb,
            cancel=deadline.cancel,
            **options,
        )
        pairs = [each for each in wanted if isinstance(each, LimitPairTarget)]
        said = results(pairs, found, blocks, conditions=conditions, joint_allowance=allowance)
        return _Round(answer=found, results=said)

    found, last = with_guard_bands(targets, ask)
    return GuardedAnswer(targets=found, answer=last.answer)
