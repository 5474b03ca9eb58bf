"""What is asked, checked and as whole steps."""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from itertools import islice
from math import gcd
from typing import Final

from msgspec import Struct

from wrung.answers import Wanted
from wrung.blocks import Block
from wrung.catalogue import addable
from wrung.coverage.answer import MOST_BLOCKS, LengthGrid
from wrung.coverage.places import Places, places
from wrung.coverage.step import GivenLength, affordable, common_step
from wrung.errors import Fault, not_positive, require
from wrung.lengths import LONGEST
from wrung.order import Order
from wrung.subset_sums import Kind, counted, one_step
from wrung.targets.requirement import WEAR_COUNT, WearBlocks

MOST_LENGTHS: Final = 2_000_000
"""A byte each, and several arrays of them are in use at one time."""

MOST_OFFERS: Final = 1_000
"""Half a million pairs."""


_BOTH_ENDS: Final = WEAR_COUNT["both"]


class Question(Struct, frozen=True, kw_only=True):
    """An inventory and a grid.

    Attributes:
        grid: what is asked for.
        blocks: the usable blocks.
        wear_count: how many wear blocks each stack has.
        most: how many blocks it may have.
        step: what every block and offer that matters is a multiple of, quanta.
        top: the longest sum that matters, in steps; grid points beyond it cannot be built.
        places: where the grid's points stand among the sums.
        offers: what may be added; each stands for one block. Some may be of no use here.
    """

    grid: LengthGrid
    blocks: tuple[Block, ...]
    wear_count: int
    most: int
    step: int
    top: int
    places: Places
    offers: tuple[Wanted, ...]

    def kind(self, block: Block | Wanted) -> Kind | None:
        """What a block is to the sums; None if no stack that is asked for can hold it."""
        if not _matters(block, self.wear_count, self.grid.points[-1]):
            return None
        return Kind(size=block.nominal // self.step, is_wear=block.role == "wear")

    @property
    def kinds(self) -> tuple[Kind, ...]:
        """The blocks that stacks can hold, alike ones counted, the longest first."""
        plain = (self.kind(block) for block in self.blocks if block.body is None)
        return (*counted(kind for kind in plain if kind is not None), *self.steps())

    def steps(self, without: str | None = None) -> tuple[Kind, ...]:
        """The kind of all steps, but for those of one step block; none where there are none."""
        own = (b for b in self.blocks if b.body is not None and b.body != without)
        return one_step(kind.size for kind in map(self.kind, own) if kind is not None)


def build_question(  # noqa: PLR0913 -- the options of `wrung.coverage_of`
    blocks: Sequence[Block],
    grid: LengthGrid,
    *,
    max_blocks: int | None,
    wear_blocks: WearBlocks,
    exclude: Collection[str],
    only: Collection[str] | None,
    offers: Sequence[Wanted] | None,
) -> Question:
    """Check the input and normalise it.

    Raises:
        InputError: with every fault found; a step that is too fine is reported alone.
    """
    faults = [
        *Order(blocks=blocks, exclude=exclude, only=only).faults(),
        *_grid_faults(grid),
        *_offer_faults(offers or ()),
    ]
    if max_blocks is not None and max_blocks < 1:
        faults.append(Fault(pointer="/max_blocks", detail="must be at least 1"))
    require(*faults)
    out = set(exclude)
    usable = {
        f"/blocks/{i}": block
        for i, block in enumerate(blocks)
        if block.id not in out and (only is None or block.id in only)
    }
    most = min(max_blocks or MOST_BLOCKS, MOST_BLOCKS)
    return _asked(usable, grid, WEAR_COUNT[wear_blocks], most, offers)


def _asked(
    usable: dict[str, Block],
    grid: LengthGrid,
    wear: int,
    most: int,
    offers: Sequence[Wanted] | None,
) -> Question:
    last, layers = grid.points[-1], wear + 1
    blocks, lengths = tuple(usable.values()), _lengths(usable, wear, last)
    if offers is None:
        usual = (each for each in addable(blocks) if _matters(each, wear, last))
        offered = tuple(islice(usual, MOST_OFFERS))
        longest = _longest(lengths, offered, last)
        step = common_step(lengths, longest, layers)
        finer = gcd(step, *(each.nominal for each in offered))
        # Nobody asked for these, so they must not make the question too large to answer.
        if affordable(finer, longest, layers):
            step = finer
        else:
            offered = tuple(each for each in offered if step and each.nominal % step == 0)
    else:
        offered = tuple(offers)
        further = _lengths({f"/offers/{i}": each for i, each in enumerate(offered)}, wear, last)
        longest = _longest(lengths, offered, last)
        step = common_step([*lengths, *further], longest, layers)
    # Without any block there is no step; with this one a single cell is left, the sum 0.
    step = step or 1 + longest
    return Question(
        grid=grid,
        blocks=blocks,
        wear_count=wear,
        most=most,
        step=step,
        top=longest // step,
        places=places(grid, step, longest // step),
        offers=offered,
    )


def _longest(lengths: Sequence[GivenLength], offers: Sequence[Wanted], last: int) -> int:
    """The longest length that can matter: of the grid, or of everything with two offers."""
    two = 2 * max((each.nominal for each in offers), default=0)
    return min(last, sum(each.nominal for each in lengths) + two)


def _matters(block: Block | Wanted, wear: int, last: int) -> bool:
    """Whether some stack that is asked for can hold it; a step needs an end without wear block."""
    is_step = isinstance(block, Block) and block.body is not None
    fits = wear < _BOTH_ENDS if is_step else wear > 0 or block.role != "wear"
    return block.nominal <= last and fits


def _lengths(
    given: Mapping[str, Block] | Mapping[str, Wanted], wear: int, last: int
) -> list[GivenLength]:
    return [
        GivenLength(pointer=at, nominal=each.nominal)
        for at, each in given.items()
        if _matters(each, wear, last)
    ]


def _grid_faults(grid: LengthGrid) -> Iterator[Fault]:
    yield from not_positive({"/range/start": grid.start, "/range/step": grid.step})
    if grid.stop < grid.start:
        yield Fault(pointer="/range/stop", detail="is less than start")
    if grid.stop > LONGEST:
        yield Fault(pointer="/range/stop", detail="is beyond the longest length of 10 m (393.7 in)")
    if grid.step > 0 and (count := (grid.stop - grid.start) // grid.step + 1) > MOST_LENGTHS:
        detail = f"makes {count} lengths, more than {MOST_LENGTHS}; take a coarser one"
        yield Fault(pointer="/range/step", detail=detail)


def _offer_faults(offers: Sequence[Wanted]) -> Iterable[Fault]:
    if len(offers) > MOST_OFFERS:
        detail = f"are {len(offers)} blocks, more than {MOST_OFFERS}"
        yield Fault(pointer="/offers", detail=detail)
    yield from not_positive({f"/offers/{k}/nominal": each.nominal for k, each in enumerate(offers)})
