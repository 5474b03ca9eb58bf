"""For the tests of programs that embed the library: builders, and Hypothesis strategies.

The strategies make small shelves of lengths that add up to one another in many ways, so that
targets compete for blocks. Every example is valid input for `wrung.solve`.
"""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from wrung.answers import Objective
from wrung.blocks import Block, Role
from wrung.lengths import SMALL_UNIT, Unit, parse
from wrung.targets import LengthTarget, Tolerance
from wrung.targets.requirement import WEAR_COUNT, WearBlocks

try:
    from hypothesis import strategies as st
except ImportError as error:
    raise ImportError("wrung.testing needs hypothesis: pip install hypothesis") from error

NOMINALS: Final[dict[Unit, tuple[str, ...]]] = {
    "mm": ("0.5", "1", "1.001", "1.002", "1.003", "1.01", "1.02", "1.5", "2", "2.5", "3", "5"),
    "in": ("0.05", "0.1", "0.1001", "0.1002", "0.1003", "0.101", "0.102", "0.15", "0.2", "0.3"),
}
"""Nominal lengths of the shelves."""

SHIFT: Final = datetime(2030, 1, 7, 6, tzinfo=UTC)
"""Start of the times at which targets are needed."""


class Request(Struct, frozen=True, kw_only=True):
    """The arguments of `wrung.solve` and `wrung.verify`."""

    blocks: tuple[Block, ...]
    targets: tuple[LengthTarget, ...]
    objective: Objective = "fewest_blocks"
    joint_allowance: int = 0
    exclude: tuple[str, ...] = ()
    only: tuple[str, ...] | None = None


def make_blocks(
    nominals: str, *, unit: Unit = "mm", limit_deviation: str = "0.2", role: Role = "gauge"
) -> tuple[Block, ...]:
    """Blocks without certificate, ``make_blocks("1.001 1.01 25")``, with ids ``b0``, ``b1``, ...

    Args:
        nominals: lengths in the unit, with spaces between them.
        unit: ``"mm"`` or ``"in"``.
        limit_deviation: of every block, in µm or µin.
        role: of every block; ids of wear blocks start with ``w``.

    Raises:
        LengthError: a text is no exact length.
    """
    limit = parse(limit_deviation, SMALL_UNIT[unit])
    return tuple(
        Block(
            id=f"{'b' if role == 'gauge' else 'w'}{place}",
            nominal=parse(text, unit),
            limit_deviation=limit,
            role=role,
            unit=unit,
        )
        for place, text in enumerate(nominals.split())
    )


def make_targets(lengths: str, *, unit: Unit = "mm") -> tuple[LengthTarget, ...]:
    """Exact targets, ``make_targets("2.011 25")``, with refs ``t0``, ``t1``, ...

    Raises:
        LengthError: a text is no exact length.
    """
    return tuple(
        LengthTarget(ref=f"t{place}", length=parse(text, unit))
        for place, text in enumerate(lengths.split())
    )


@st.composite
def shelves(draw: st.DrawFn, *, min_blocks: int = 1, max_blocks: int = 8) -> tuple[Block, ...]:
    """Gauge and wear blocks, certified or not, metric, inch or both; lengths may stand twice.

    Some are steps of a step block or two.
    """
    units: tuple[Unit, ...] = draw(st.sampled_from((("mm",), ("in",), ("mm", "in"))))
    count = draw(st.integers(min_blocks, max_blocks))
    blocks = tuple(_block(draw, f"b{place}", units) for place in range(count))
    return draw(st.sampled_from((blocks, blocks, _stepped(draw, blocks))))


def _stepped(draw: st.DrawFn, blocks: Sequence[Block]) -> tuple[Block, ...]:
    bodies: set[tuple[str, int]] = set()
    found: list[Block] = []
    for block in blocks:
        body = draw(st.sampled_from((None, None, "s0", "s1")))
        if body is None or block.role == "wear" or (body, block.nominal) in bodies:
            found.append(block)
            continue
        bodies.add((body, block.nominal))
        found.append(replace(block, body=body))
    return tuple(found)


def _block(draw: st.DrawFn, name: str, units: Sequence[Unit]) -> Block:
    unit = draw(st.sampled_from(units))
    nominal = parse(draw(st.sampled_from(NOMINALS[unit])), unit)
    # One block in five is a wear block: often enough to matter, seldom enough to leave a shelf.
    role: Role = draw(st.sampled_from(("gauge", "gauge", "gauge", "gauge", "wear")))
    small = parse("0.01", "um") if unit == "mm" else parse("1", "uin")
    figure = draw(st.integers(0, 30)) * small
    if draw(st.booleans()):
        deviation = draw(st.integers(-20, 20)) * small
        return Block(
            id=name,
            nominal=nominal,
            deviation=deviation,
            expanded_uncertainty=figure,
            role=role,
            unit=unit,
        )
    if draw(st.booleans()):
        return Block(id=name, nominal=nominal, limit_deviation=figure, role=role, unit=unit)
    grade = draw(st.sampled_from(("K", "0", "AS-1") if unit == "in" else ("K", "0", "1", "2")))
    return Block(id=name, nominal=nominal, grade=grade, role=role, unit=unit)


@st.composite
def length_targets(draw: st.DrawFn, shelf: Sequence[Block], *, ref: str = "t0") -> LengthTarget:
    """A target that the shelf can often, but not always, build."""
    worn = [block.nominal for block in shelf if block.role == "wear"]
    gauge = [block.nominal for block in shelf if block.role == "gauge"]
    # Wear blocks are asked for where there are some, and now and then where there are none.
    never: tuple[WearBlocks, ...] = ("none",)
    wear = draw(st.sampled_from((*never * (2 if worn else 8), "one", "both")))
    # Summed from the shelf: a length drawn at random could hardly ever be built.
    total = _some(draw, worn, WEAR_COUNT[wear]) + _some(draw, gauge, draw(st.integers(1, 4)))
    off = draw(st.sampled_from((*[0] * 10, parse("1", "um"), parse("10", "uin"))))
    start, end = draw(st.sampled_from(_TIMES))
    return LengthTarget(
        ref=ref,
        length=max(total + off, 1),
        tolerance=draw(st.sampled_from(_TOLERANCES)),
        max_blocks=draw(st.sampled_from((None, None, None, None, 1, 2, 3, 4))),
        wear_blocks=wear,
        needed_from=start,
        needed_until=end,
    )


def _some(draw: st.DrawFn, lengths: Sequence[int], count: int) -> int:
    chosen = draw(st.permutations(lengths)) if lengths else []
    return sum(chosen[:count])


@st.composite
def requests(draw: st.DrawFn, *, max_blocks: int = 8, max_targets: int = 3) -> Request:
    """A whole request, with every option that `wrung.solve` knows."""
    blocks = draw(shelves(max_blocks=max_blocks))
    count = draw(st.integers(1, max_targets))
    names = [block.id for block in blocks]
    few_names = st.lists(st.sampled_from(names), max_size=2, unique=True).map(tuple)
    priorities = draw(st.sampled_from(_PRIORITIES))
    left_out = st.just(()) | st.just(()) | few_names
    return Request(
        blocks=blocks,
        targets=tuple(
            replace(
                draw(length_targets(blocks, ref=f"t{place}")),
                priority=draw(st.sampled_from(priorities)),
            )
            for place in range(count)
        ),
        objective=draw(st.sampled_from(("fewest_blocks", "least_error"))),
        joint_allowance=draw(st.sampled_from((0, parse("1", "uin"), parse("0.1", "um")))),
        exclude=draw(left_out),
        only=draw(st.none() | left_out.map(lambda out: tuple(n for n in names if n not in out))),
    )


def _hour(count: int) -> datetime:
    return SHIFT + timedelta(hours=count)


_TIMES: Final[tuple[tuple[datetime | None, datetime | None], ...]] = (
    (None, None),
    (None, None),
    (None, _hour(2)),
    (_hour(2), None),
    (_hour(1), _hour(3)),
    (_hour(0), _hour(1)),
)
_PRIORITIES: Final = ((None,), (None,), (1, 2, None), (3, 1, 1))
"""Those that the targets of a request may have."""
_TOLERANCES: Final = (
    *[Tolerance()] * 6,
    Tolerance(lower=-parse("2", "um"), upper=parse("3", "um")),
    Tolerance(lower=-parse("0.5", "mm"), upper=0),
    Tolerance(lower=parse("1", "um"), upper=parse("30", "um")),
)
