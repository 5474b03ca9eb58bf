"""The next best stacks, and plans that trade blocks against error. Lengths are quanta."""

from collections.abc import Iterable
from typing import Final

from msgspec import Struct

from wrung.answers import Compared, Stack
from wrung.errors import Fault

MOST_ALTERNATIVES: Final = 20
"""A longer list would not help, and each one has to be searched for and proven."""


class Alternative(Struct, frozen=True, kw_only=True):
    """Another stack for the target of an answer.

    Attributes:
        rank: 1 + the number of stacks that are better by the objective, including the one in the
            answer; equally good stacks have the same rank.
        proven: the rank is proven: every better stack is in the list or the answer. If not, the
            true rank may be a higher number.
        stack: its blocks in wringing order, and its worst-case error.
        compared_errors: what it was compared by; None for the worst-case error.
    """

    rank: int
    proven: bool
    stack: Stack
    compared_errors: Compared | None = None


class Alternatives(Struct, frozen=True, kw_only=True):
    """The next best stacks for the target of an answer, best first.

    No two of them, nor one of them and the stack of the answer, differ only in which of several
    interchangeable blocks they use: blocks of one nominal length and role that bring the same
    deviation and margin into what is compared.

    Attributes:
        stacks: no more than asked for; fewer if there are no more, or if the search ended.
        complete: there is no other stack than these and the answer's (proven).
    """

    stacks: tuple[Alternative, ...] = ()
    complete: bool = False


class TradeOffPoint(Struct, frozen=True, kw_only=True):
    """A plan of which no other, serving as many targets, has less of one and no more of the other.

    Attributes:
        total_blocks: over all stacks.
        largest_worst_case_error: of any stack.
        total_worst_case_error: over all stacks; as small as it can be with the blocks and the
            largest error of this plan, if that is what is compared.
        proven: no plan that serves as many has fewer blocks and no larger error, or a smaller
            error and no more blocks.
        stacks: one for each target served, in the order of the targets.
        compared_errors: what errors were compared by; None for the worst-case error.
    """

    total_blocks: int
    largest_worst_case_error: int
    total_worst_case_error: int
    proven: bool
    stacks: tuple[Stack, ...]
    compared_errors: Compared | None = None


class TradeOff(Struct, frozen=True, kw_only=True):
    """The number of blocks against the largest error, from the fewest blocks to the least error.

    Attributes:
        points: blocks rise and largest errors fall from each to the next.
        complete: there are no other such points, and each of these is proven.
    """

    points: tuple[TradeOffPoint, ...] = ()
    complete: bool = False


def alternatives_faults(count: int, stacks: int) -> Iterable[Fault]:
    """What is wrong with asking for so many alternatives where so many stacks are wanted."""
    at = "/alternatives"
    if not 1 <= count <= MOST_ALTERNATIVES:
        yield Fault(pointer=at, detail=f"must be from 1 to {MOST_ALTERNATIVES}")
    if stacks != 1:
        detail = (
            f"are for one stack, and the targets come to {stacks}: with several, which stack is "
            "next best depends on the others; ask for each by itself"
        )
        yield Fault(pointer=at, detail=detail)
