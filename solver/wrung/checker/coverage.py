"""Checks what a survey of coverage says, by other means and with none of its code.

Every set of sums is the bits of one whole number, one set for each count of blocks; the survey
holds least counts in arrays instead. Where so many sets are too much work, only what any number of
blocks can build is checked. That no other loss or addition is greater is not checked here.
"""

from collections.abc import Collection, Iterator, Sequence
from functools import reduce
from math import gcd
from typing import Final, TypeAlias

from msgspec import Struct

from wrung.answers import Wanted
from wrung.blocks import Block
from wrung.checked_types import typed
from wrung.checker.verify import Breach
from wrung.coverage.answer import Coverage, Reach
from wrung.targets.requirement import WEAR_COUNT, WearBlocks

_Bits: TypeAlias = int
_Parts: TypeAlias = Sequence[Block | Wanted]

_MOST_WORK: Final = 1_000_000_000
"""Bits moved for one inventory: about 0.1 s."""


@typed
def verify_coverage(
    blocks: Sequence[Block],
    found: Coverage,
    *,
    wear_blocks: WearBlocks = "none",
    exclude: Collection[str] = (),
    only: Collection[str] | None = None,
) -> tuple[Breach, ...]:
    """What is wrong with a survey; nothing if it is right.

    The least number of blocks of every length, and what the greatest loss, the best block and the
    best two come to, are worked out again. ``blocks`` and options are those of `wrung.coverage_of`.
    """
    if found.reach is None:
        return ()
    usable = [b for b in blocks if b.id not in exclude and (only is None or b.id in only)]
    case = _Case(found=found, reach=found.reach, usable=usable, wear_count=WEAR_COUNT[wear_blocks])
    return (
        *_counts(case),
        *_buildable(case),
        *_fewest(case),
        *_greatest_loss(case),
        *_best_additions(case),
    )


class _Case(Struct, frozen=True, kw_only=True):
    """A survey, and the blocks that it is of."""

    found: Coverage
    reach: Reach
    usable: _Parts
    wear_count: int

    def shelf(self, parts: _Parts) -> "_Shelf":
        """The parts that stacks can hold, as whole steps."""
        last = self.found.grid.points[-1]
        kept = [p for p in parts if p.nominal <= last and (self.wear_count or p.role != "wear")]
        stepped = [part for part in kept if _is_step(part)]
        plain = [part for part in kept if not _is_step(part)]
        if self.wear_count > 1:
            # With wear blocks on both ends there is none for a step.
            kept, stepped = plain, []
        step = gcd(*(part.nominal for part in kept)) or 1
        return _Shelf(
            sizes=[(part.nominal // step, int(part.role == "wear")) for part in plain],
            steps=[part.nominal // step for part in stepped],
            wear=self.wear_count,
            most=min(self.found.max_blocks, len(plain) + bool(stepped)),
            step=step,
            top=min(last, sum(part.nominal for part in kept)) // step,
        )

    def bits(self, shelf: "_Shelf", wanted: Collection[int]) -> _Bits:
        """The sums that are lengths of the range, and are told to need one of these numbers."""
        grid, fewest = self.found.grid, self.reach.fewest
        # Only lengths that are whole steps can be sums; these recur at every period-th point.
        period = shelf.step // gcd(shelf.step, grid.step)
        first = next((n for n, at in enumerate(grid.points[:period]) if at % shelf.step == 0), None)
        cells = bytearray(b"0" * (shelf.top + 1))
        if first is not None:
            cell, stride = grid.points[first] // shelf.step, grid.step * period // shelf.step
            table = bytes(ord("1") if number in wanted else ord("0") for number in range(256))
            inside = fewest[first::period][: len(range(cell, shelf.top + 1, stride))]
            cells[cell : cell + len(inside) * stride : stride] = inside.translate(table)
        # Written as binary digits, the highest first: one conversion sets all bits at once.
        return int(cells[::-1], 2)

    def built(self, parts: _Parts) -> int | None:
        """How many lengths the parts build; None where that is too much work."""
        shelf = self.shelf(parts)
        sums = shelf.at_most() if shelf.limited else shelf.any_number()
        return None if sums is None else (sums & self.bits(shelf, range(256))).bit_count()


def _is_step(part: Block | Wanted) -> bool:
    return isinstance(part, Block) and part.body is not None


class _Shelf(Struct, frozen=True, kw_only=True):
    """Sizes in steps, each with 1 for a wear block; of the stacks each has ``wear`` of these.

    It has at most one of ``steps``, those of step blocks.
    """

    sizes: list[tuple[int, int]]
    steps: list[int]
    wear: int
    most: int
    step: int
    top: int

    @property
    def limited(self) -> bool:
        """Whether a stack may not have as many parts as there are for it."""
        return self.most < len(self.sizes) + bool(self.steps)

    def _with_step(self, sums: _Bits) -> _Bits:
        mask = (1 << self.top + 1) - 1
        return reduce(int.__or__, (sums << size & mask for size in self.steps), 0)

    def any_number(self) -> _Bits | None:
        """The sums of any number of parts; None where that is too much work."""
        if (self.wear + 1) * len(self.sizes) * self.top > _MOST_WORK:
            return None
        reached = [1, *[0] * self.wear]
        mask = (1 << self.top + 1) - 1
        for size, worn in self.sizes:
            for layer in range(self.wear - worn, -1, -1):
                reached[layer + worn] |= reached[layer] << size & mask
        return reached[self.wear] | self._with_step(reached[self.wear])

    def levels(self, most: int) -> list[_Bits] | None:
        """The sums of exactly 0, 1, .. ``most`` parts; None where that is too much work."""
        if (self.wear + 1) * len(self.sizes) * most * self.top > _MOST_WORK:
            return None
        reached = [[0] * (most + 1) for _ in range(self.wear + 1)]
        reached[0][0] = 1
        mask = (1 << self.top + 1) - 1
        for size, worn in self.sizes:
            for layer in range(self.wear - worn, -1, -1):
                for number in range(most - 1, -1, -1):
                    reached[layer + worn][number + 1] |= reached[layer][number] << size & mask
        plain = reached[self.wear]
        return [
            one | self._with_step(fewer) for one, fewer in zip(plain, [0, *plain], strict=False)
        ]

    def at_most(self) -> _Bits | None:
        """The sums of as many parts as a stack may have, or fewer."""
        levels = self.levels(self.most)
        return None if levels is None else reduce(int.__or__, levels)


def _counts(case: _Case) -> Iterator[Breach]:
    """What is counted is what the lengths say."""
    fewest = case.reach.fewest
    needed = {n: fewest.count(n) for n in set(fewest) if n}
    counted = (len(case.found.grid.points), case.reach.buildable_count)
    if (len(fewest), sum(needed.values())) != counted:
        yield Breach(rule="lengths", detail="the lengths that are built are miscounted")
    if needed != {each.block_count: each.length_count for each in case.reach.histogram}:
        yield Breach(rule="histogram", detail="the lengths by number of blocks are miscounted")
    if any(n > case.found.max_blocks for n in needed):
        yield Breach(rule="max_blocks", detail="a length has more blocks than are allowed")


def _buildable(case: _Case) -> Iterator[Breach]:
    """What is told to be built is a sum of blocks; without a limit, nothing else is."""
    shelf = case.shelf(case.usable)
    sums = shelf.any_number()
    claimed, every = case.bits(shelf, range(1, 256)), case.bits(shelf, range(256))
    if sums is None:
        return
    if claimed.bit_count() != case.reach.buildable_count or claimed & ~sums:
        yield Breach(rule="buildable", detail="a length is no sum of blocks")
    if not shelf.limited and sums & every & ~claimed:
        yield Breach(rule="buildable", detail="a length that can be built is called a gap")


def _fewest(case: _Case) -> Iterator[Breach]:
    """Each length has its least number of blocks, and within the limit no other can be built."""
    shelf = case.shelf(case.usable)
    levels = shelf.levels(shelf.most if shelf.limited else max(case.reach.fewest))
    left = case.bits(shelf, range(256))
    for number, level in enumerate(levels or ()):
        if number and level & left != case.bits(shelf, [number]):
            detail = f"lengths of {number} blocks are told wrongly"
            yield Breach(rule="fewest blocks", detail=detail)
        # What fewer blocks build needs no more of them, however many ways there are.
        left &= ~level


def _greatest_loss(case: _Case) -> Iterator[Breach]:
    loss = next(iter(case.found.losses or ()), None)
    if loss is None:
        return
    usable = [part for part in case.usable if isinstance(part, Block)]
    bodies = {part.body for part in usable if part.id == loss.block} - {None}
    others = [part for part in usable if part.id != loss.block and part.body not in bodies]
    left = case.built(others)
    if left is not None and left != case.reach.buildable_count - loss.lengths_lost:
        yield Breach(rule="losses", detail=f"without {loss.block} {left} lengths can be built")


def _best_additions(case: _Case) -> Iterator[Breach]:
    added = case.found.additions
    if added is None:
        return
    for addition in [*added.single_blocks[:1], *([added.best_pair] if added.best_pair else [])]:
        now = case.built([*case.usable, *addition.blocks])
        if now is not None and now != case.reach.buildable_count + addition.lengths_gained:
            yield Breach(rule="additions", detail=f"with what is added {now} lengths can be built")
