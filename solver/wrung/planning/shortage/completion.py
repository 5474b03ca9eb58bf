"""One stack from free pieces and a few blocks that would have to be added."""

from collections.abc import Iterator, Sequence
from itertools import combinations_with_replacement, islice, takewhile
from math import gcd

from msgspec import Struct
from msgspec.structs import replace

from wrung.answers import Wanted
from wrung.blocks import Block
from wrung.catalogue import marked_in
from wrung.deadline import Deadline
from wrung.planning.lone import windows
from wrung.planning.lone.knapsack import Knapsack
from wrung.planning.parts import alone, thrifty
from wrung.planning.problem import Demand, Piece, Problem


class Completion(Struct, frozen=True, kw_only=True):
    """A stack made of added blocks and of free pieces.

    Where the demand limits the error, that of each added block may be ``most`` at most, in the
    unit of the measure.
    """

    added: tuple[Wanted, ...]
    pieces: tuple[int, ...]
    most: int | None = None


class Offers(Struct, frozen=True, kw_only=True):
    """Blocks to complete a stack with.

    Attributes:
        lent: added already for another time; at most one of them is used.
        new: may be added, those tried first in front.
    """

    lent: tuple[Wanted, ...]
    new: tuple[Wanted, ...]


def completions(
    problem: Problem, demand: int, free: Sequence[int], offers: Offers, deadline: Deadline
) -> Iterator[Completion]:
    """Stacks of free pieces and of new blocks, those with the fewest new blocks first.

    Where two new ones are not enough, as many are taken as needed. Each can be had: it is a member
    of some composition.
    """
    new = _in_its_unit(problem, problem.demands[demand], offers.new)
    if not _in_step(problem, demand, free, (*offers.lent, *new)):
        return
    supply = _supply(problem, demand, free, deadline)
    if supply is None:
        return
    choices = islice(
        _choices(replace(offers, new=new), deadline.tuning.most_new),
        deadline.tuning.most_additions_tried,
    )
    for added in takewhile(lambda _: not deadline.passed, choices):
        if (one := _with(supply, problem.demands[demand], added)) is not None:
            yield one
    if (whole := _of_many(problem, demand, free, new, deadline)) is not None:
        yield whole


def completions_by_one(
    problem: Problem, demand: int, free: Sequence[int], new: Sequence[Wanted], deadline: Deadline
) -> Iterator[Completion]:
    """A stack of free pieces and one new block, for each of these blocks that allows it."""
    supply = _supply(problem, demand, free, deadline)
    if supply is not None:
        tries = (_with(supply, problem.demands[demand], (block,)) for block in new)
        yield from (one for one in tries if one is not None)


def _in_its_unit(
    problem: Problem, demand: Demand, offers: tuple[Wanted, ...]
) -> tuple[Wanted, ...]:
    """If the shelf does not tell the unit, only blocks in the unit of the length."""
    if problem.pieces:
        return offers
    unit = marked_in(demand.target)
    return tuple(offer for offer in offers if offer.unit == unit)


def _in_step(problem: Problem, demand: int, free: Sequence[int], offers: Sequence[Wanted]) -> bool:
    """Whether the step of all lengths meets the window; else no number of blocks does."""
    lengths = (offer.nominal for offer in offers)
    step = gcd(*lengths, *(problem.pieces[index].nominal for index in free)) or 1
    wanted = problem.demands[demand]
    return -(-wanted.low // step) <= wanted.high // step


def _of_many(
    problem: Problem, demand: int, free: Sequence[int], new: Sequence[Wanted], deadline: Deadline
) -> Completion | None:
    """A stack of few blocks, of as many new ones as it takes."""
    bought = tuple(_bought(place, each) for place, each in enumerate(_as_needed(new)))
    pieces = (*(problem.pieces[index] for index in free), *bought)
    most = problem.demands[demand].requirement.max_blocks
    wanted = replace(problem.demands[demand], most=len(pieces) if most is None else most)
    stack = windows.build(alone(problem, wanted, pieces), 0, range(len(pieces)), deadline).stack
    if stack is None:
        return None
    chosen = thrifty(pieces, stack, len(free))
    return Completion(
        added=tuple(_wanted(pieces[k]) for k in chosen if k >= len(free)),
        pieces=tuple(free[k] for k in chosen if k < len(free)),
    )


def _as_needed(new: Sequence[Wanted]) -> Iterator[Wanted]:
    """Each as often as a stack may need it: there may be a wear block at each end."""
    for each in new:
        yield each
        if each.role == "wear":
            yield each


def _bought(place: int, wanted: Wanted) -> Piece:
    """The block as if it were on the shelf; its error is not known yet."""
    block = Block(
        id=f"new {place}",
        nominal=wanted.nominal,
        limit_deviation=0,
        role=wanted.role,
        unit=wanted.unit,
    )
    wear = wanted.role == "wear"
    return Piece(block=block, nominal=wanted.nominal, deviation=0, margin=0, wear=wear)


def _wanted(piece: Piece) -> Wanted:
    return Wanted(nominal=piece.nominal, unit=piece.block.unit, role=piece.block.role)


def _supply(
    problem: Problem, demand: int, free: Sequence[int], deadline: Deadline
) -> Knapsack | None:
    """What the free pieces add up to; None if there is no length to add to, or no time."""
    wanted = problem.demands[demand]
    # A window may lie at 0 or below.
    if deadline.passed or wanted.high < 1:
        return None
    return Knapsack(problem.pieces, free, wanted, wanted.high, deadline)


def _choices(offers: Offers, most_new: int) -> Iterator[tuple[Wanted, ...]]:
    # By the number of new blocks: one that is lent is there anyway.
    for count in range(most_new + 1):
        for borrowed in ((), *((block,) for block in offers.lent)):
            for bought in combinations_with_replacement(offers.new, count):
                yield borrowed + bought


def _with(supply: Knapsack, demand: Demand, added: tuple[Wanted, ...]) -> Completion | None:
    """A stack that holds all the added blocks."""
    wear = demand.wear - sum(block.role == "wear" for block in added)
    limit = demand.requirement.max_blocks
    most = demand.most if limit is None else limit - len(added)
    if wear < 0 or most < 0:
        return None
    length = sum(block.nominal for block in added)
    low, high = max(demand.low, 1) - length, demand.high - length
    pieces = supply.stack(replace(demand, low=low, high=high, wear=wear, most=most))
    return None if pieces is None else Completion(added=added, pieces=pieces)
