"""One stack from free pieces and a few blocks that would have to be added."""

from collections.abc import Iterator, Sequence
from itertools import combinations_with_replacement, takewhile
from typing import Final

from msgspec import Struct

from wrung.answers import Wanted
from wrung.blocks import Role
from wrung.planning.deadline import Deadline
from wrung.planning.lone.heap import Heap, heap
from wrung.planning.lone.reach import (
    Bits,
    Layers,
    affordable,
    highest,
    listed,
    lowest_listed,
    pick_few,
    sums,
)
from wrung.planning.problem import Demand, Problem
from wrung.planning.shortage.catalogue import marked_in

_MOST_NEW: Final = 2
"""Blocks of real lengths that are tried at once."""

_REAL_SHARE: Final = 0.7
"""Of the time, before a special block will have to do."""


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

    Where two real blocks do not do, the remainder is made up by a special one; at last the whole
    is. Nothing is left out but what there is no time for.
    """
    supply = _supply(problem, demand, free, deadline)
    if supply is None:
        return
    trying = deadline.share(_REAL_SHARE)
    choices = takewhile(lambda _: not trying.passed, _choices(offers))
    yield from (one for added in choices if (one := _with(supply, added)))
    special = _special(problem, supply, offers.new, deadline)
    if special is not None:
        yield special
    # Where wear blocks are asked for, one block cannot be the whole stack.
    if not supply.demand.wear:
        nominal = _goal(supply.demand)
        whole = Wanted(nominal=nominal, unit=marked_in(nominal, problem.pieces))
        yield Completion(added=(whole,), pieces=())


class _Supply(Struct, frozen=True, kw_only=True):
    """What the free pieces can give.

    Attributes:
        demand: what is to be built.
        heaps: by the number of wear pieces taken from the free ones.
        layers: sums of the free gauge pieces in steps, see `wrung.planning.lone.reach`.
        listed: the same in another form.
        room: most gauge blocks, added ones included; None where there is no limit.
    """

    demand: Demand
    heaps: tuple[Heap, ...]
    layers: Layers
    listed: tuple[bytes, ...]
    room: int | None

    def room_beside(self, added: int) -> int | None:
        """Most gauge pieces beside so many added gauge blocks; -1 if these are too many."""
        if self.room is None:
            return None
        # There are no more layers than pieces.
        return min(max(self.room - added, -1), len(self.heaps[0].sizes))


def _supply(
    problem: Problem, demand: int, free: Sequence[int], deadline: Deadline
) -> _Supply | None:
    wanted = problem.demands[demand]
    most = wanted.requirement.max_blocks
    # A limit beyond all that can be used would only cost layers.
    room = None if most is None or most > len(free) + _MOST_NEW + 1 else most - wanted.wear
    # A window may lie at 0 and below, where nothing is long enough to be added.
    if deadline.passed or wanted.high < 1 or (room is not None and room < 0):
        return None
    heaps = [heap(problem.pieces, free, wear=n, room=room) for n in range(wanted.wear + 1)]
    known = tuple(pile for pile in heaps if pile is not None)
    if len(known) < len(heaps):
        return None
    layers = _layers(known[0], wanted.high, room, deadline)
    return _Supply(
        demand=wanted,
        heaps=known,
        layers=layers,
        listed=tuple(map(listed, layers)),
        room=room,
    )


def _layers(pile: Heap, high: int, room: int | None, deadline: Deadline) -> Layers:
    limit = max(0, min(high // pile.step, sum(pile.sizes)))
    most = None if room is None else min(room, len(pile.sizes))
    if affordable(pile.sizes, most, limit, deadline.remaining, deadline.memory.left):
        return sums(pile.sizes, most, limit)
    # The sums are too many to list; added blocks by themselves can still be judged.
    return (1,) if most is None else (1,) * (most + 1)


def _choices(offers: Offers) -> Iterator[tuple[Wanted, ...]]:
    # By the number of new blocks: one that is lent is there anyway.
    for count in range(_MOST_NEW + 1):
        for borrowed in ((), *((block,) for block in offers.lent)):
            for bought in combinations_with_replacement(offers.new, count):
                yield borrowed + bought


def _with(supply: _Supply, added: tuple[Wanted, ...]) -> Completion | None:
    """A stack that holds all the added blocks."""
    wear = sum(block.role == "wear" for block in added)
    room = supply.room_beside(len(added) - wear)
    if wear > supply.demand.wear or room == -1:
        return None
    length = sum(block.nominal for block in added)
    pile = supply.heaps[supply.demand.wear - wear]
    low, high = max(supply.demand.low, 1) - length, supply.demand.high - length
    for end in pile.ends:
        first, last = pile.span(low, high, end)
        steps = lowest_listed(supply.listed[-1 if room is None else room], first, last)
        if steps >= 0:
            return Completion(added=added, pieces=_pieces(pile, room, end, steps))
    return None


class _Rest(Struct, frozen=True, kw_only=True):
    """What is left for one special block beside added ends and a sum of free pieces, in steps."""

    ends: tuple[Wanted, ...]
    pile: Heap
    end: int
    steps: int
    nominal: int


def _special(
    problem: Problem, supply: _Supply, offers: Sequence[Wanted], deadline: Deadline
) -> Completion | None:
    """A stack with one special block, the shortest that is no shorter than any real one.

    If not even that fits between the wear blocks, one of these is the special block.
    """
    least = min((offer.nominal for offer in offers if offer.role == "gauge"), default=1)
    gauge = _shortest_rest(supply, offers, least, "gauge", deadline)
    if gauge is not None and gauge.nominal >= least:
        return _with_special(problem, supply, gauge, "gauge")
    wear = _shortest_rest(supply, offers, least, "wear", deadline)
    if wear is not None and (gauge is None or _rank(wear, least) < _rank(gauge, least)):
        return _with_special(problem, supply, wear, "wear")
    return None if gauge is None else _with_special(problem, supply, gauge, "gauge")


def _shortest_rest(
    supply: _Supply, offers: Sequence[Wanted], least: int, role: Role, deadline: Deadline
) -> _Rest | None:
    # Only numbers are compared: which pieces make the sum up is asked of the best one alone.
    rests = takewhile(lambda _: not deadline.passed, _rests(supply, offers, least, role))
    return min(rests, key=lambda rest: _rank(rest, least), default=None)


def _rank(rest: _Rest, least: int) -> tuple[bool, int]:
    return (rest.nominal < least, rest.nominal)


def _rests(supply: _Supply, offers: Sequence[Wanted], least: int, role: Role) -> Iterator[_Rest]:
    wear = supply.demand.wear - (role == "wear")
    room = supply.room_beside(int(role == "gauge"))
    if room == -1 or wear < 0:
        return
    reached = _reached(supply.layers, room)
    for ends, pile in _ended(supply, wear, offers):
        for end in pile.ends:
            rest = _goal(supply.demand) - end - sum(block.nominal for block in ends)
            steps = max(highest(reached, (rest - least) // pile.step), 0)
            nominal = rest - steps * pile.step
            if nominal > 0:
                yield _Rest(ends=ends, pile=pile, end=end, steps=steps, nominal=nominal)


def _with_special(problem: Problem, supply: _Supply, rest: _Rest, role: Role) -> Completion:
    unit = marked_in(rest.nominal, problem.pieces)
    special = Wanted(nominal=rest.nominal, unit=unit, role=role)
    pieces = _pieces(rest.pile, supply.room_beside(int(role == "gauge")), rest.end, rest.steps)
    return Completion(added=(*rest.ends, special), pieces=pieces)


def _ended(
    supply: _Supply, count: int, offers: Sequence[Wanted]
) -> Iterator[tuple[tuple[Wanted, ...], Heap]]:
    """The wear blocks to add where the free ones are too few, and the heap that they go with."""
    worn = max(n for n, pile in enumerate(supply.heaps[: count + 1]) if pile.ends)
    wear = [offer for offer in offers if offer.role == "wear"]
    for ends in combinations_with_replacement(wear, count - worn):
        yield ends, supply.heaps[worn]


def _goal(demand: Demand) -> int:
    """The length in the window that is closest to the target; nothing of no length is built."""
    return min(max(demand.target, demand.low, 1), demand.high)


def _reached(layers: Layers, room: int | None) -> Bits:
    return layers[-1] if room is None else layers[room]


def _pieces(pile: Heap, room: int | None, end: int, steps: int) -> tuple[int, ...]:
    places = pick_few(pile.sizes, room, steps)
    return tuple(sorted((*pile.ends[end], *(pile.gauge[place] for place in places))))
