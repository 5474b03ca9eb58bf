"""One stack from free pieces and a few blocks that would have to be added."""

from collections.abc import Iterator, Sequence
from itertools import combinations_with_replacement, islice
from math import gcd

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from wrung.answers import Wanted
from wrung.blocks import Block
from wrung.catalogue import marked_in
from wrung.deadline import Deadline
from wrung.planning.knapsack import Knapsack
from wrung.planning.lone import build
from wrung.planning.parts import alone
from wrung.planning.problem import Demand, Piece, Problem


class Completion(Struct, frozen=True, kw_only=True):
    """A stack made of added blocks and of free pieces.

    Where the demand limits the error, that of each added block may be ``most`` at most, in the
    unit of the measure.
    """

    added: tuple[Wanted, ...]
    pieces: tuple[int, ...]
    most: int | None = None


def completions(  # noqa: PLR0913, PLR0917 -- what to build, of what, and how long
    problem: Problem,
    demand: int,
    free: Sequence[int],
    lent: Sequence[Wanted],
    new: Sequence[Wanted],
    deadline: Deadline,
) -> Iterator[Completion]:
    """Stacks of free pieces and of new blocks, those with the fewest new blocks first.

    At most one of the blocks that are ``lent``, as they were added for another time, is used, too.
    Where two new ones are not enough, as many are taken as needed. Each can be had: it is a member
    of some composition.
    """
    wanted, tuning = problem.demands[demand], deadline.tuning
    if not problem.pieces:
        # If the shelf does not tell the unit, only blocks in the unit of the length.
        new = [offer for offer in new if offer.unit == marked_in(wanted.target)]
    nominals = (problem.pieces[index].nominal for index in free)
    step = gcd(*(offer.nominal for offer in (*lent, *new)), *nominals) or 1
    # If no multiple of it lies in the window, no number of blocks helps; a window may lie at 0 or
    # below, where there is no length to add to.
    if deadline.passed or wanted.high < 1 or -(-wanted.low // step) > wanted.high // step:
        return
    share = deadline.share(tuning.share_for_sums)
    supply = Knapsack(problem.pieces, free, wanted, wanted.high, share)
    choices = islice(_choices(lent, new, tuning.most_new), tuning.most_additions_tried)
    # Of long lengths in fine steps, there are tens of millions of sums to look at.
    looking = supply.limit / tuning.sums_a_second
    while deadline.remaining > looking and (some := [*islice(choices, tuning.additions_a_look)]):
        lengths = np.array([sum(block.nominal for block in added) for added in some])
        # Most can be ruled out at once.
        for place in np.flatnonzero(supply.may_build_beside(lengths, wanted)).tolist():
            # Of long lengths in fine steps, one stack takes tens of ms.
            if deadline.passed:
                return
            if (one := completed(supply, wanted, some[place])) is not None:
                yield one
    if (whole := _of_many(problem, demand, free, new, deadline)) is not None:
        yield whole


def _of_many(
    problem: Problem, demand: int, free: Sequence[int], new: Sequence[Wanted], deadline: Deadline
) -> Completion | None:
    """A stack of few blocks, of as many new ones as it takes."""
    # Each as often as a stack may need it: there may be a wear block at each end.
    offers = [*new, *(each for each in new if each.role == "wear")]
    # Of pieces that are alike, the first ones are taken: those that are free.
    bought = (as_bought(place, each) for place, each in enumerate(offers))
    pieces = (*(problem.pieces[index] for index in free), *bought)
    most = problem.demands[demand].requirement.max_blocks
    wanted = replace(problem.demands[demand], most=len(pieces) if most is None else most)
    stack = build(alone(problem, wanted, pieces), 0, range(len(pieces)), deadline).stack
    if stack is None:
        return None
    there = len(free)
    return Completion(
        added=tuple(offers[k - there] for k in stack if k >= there),
        pieces=tuple(free[k] for k in stack if k < there),
    )


def as_bought(place: int, wanted: Wanted) -> Piece:
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


def _choices(
    lent: Sequence[Wanted], new: Sequence[Wanted], most_new: int
) -> Iterator[tuple[Wanted, ...]]:
    # By the number of new blocks: one that is lent is there anyway.
    for count in range(most_new + 1):
        for borrowed in ((), *((block,) for block in lent)):
            for bought in combinations_with_replacement(new, count):
                yield borrowed + bought


def rest_of(demand: Demand, added: Sequence[Wanted]) -> Demand:
    """What all else must be in a stack of the demand that holds these blocks."""
    length = sum(block.nominal for block in added)
    limit = demand.requirement.max_blocks
    return replace(
        demand,
        target=demand.target - length,
        low=max(demand.low, 1) - length,
        high=demand.high - length,
        wear=demand.wear - sum(block.role == "wear" for block in added),
        most=demand.most if limit is None else limit - len(added),
    )


def completed(supply: Knapsack, demand: Demand, added: tuple[Wanted, ...]) -> Completion | None:
    """A stack for the demand that holds all the added blocks, and what the knapsack has."""
    rest = rest_of(demand, added)
    pieces = None if rest.wear < 0 or rest.most < 0 else supply.stack(rest)
    return None if pieces is None else Completion(added=added, pieces=pieces)
