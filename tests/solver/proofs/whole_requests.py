"""Small random requests with every option of the contract, and the names of those they use."""

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from typing import Final, TypeAlias, TypedDict

from hypothesis import strategies as st
from msgspec import Struct
from msgspec.structs import replace

from solver.metrology.test_measuring import MEASURES
from wrung import Block, GaugeSet, LengthTarget, Objective, inch, um
from wrung.compositions import composition
from wrung.lengths import Unit, parse
from wrung.metrology.error_measure import WORST_CASE, ErrorMeasure, RequiredRatio
from wrung.order import Order
from wrung.planning.problem import Problem, build_problem
from wrung.targets import CheckPointsTarget, Requirement
from wrung.testing import length_targets, shelves

AnyTarget: TypeAlias = LengthTarget | CheckPointsTarget

LEAST_BLOCKS: Final = 3
MOST_BLOCKS: Final = 12
STACKS: Final = (4, 3, 2, 4, 3, 1)
"""How many stacks; more of them contend for blocks more often."""
PRIORITIES: Final = ((None,), (None,), (1, 2, None), (3, 1, 2, 1))
"""Those that the targets of a request may have."""
KEPT: Final = ("0.05", "0.1", "0.1001", "0.1002", "0.101", "0.102", "0.15", "0.2")
"""Lengths of which the shelves of two sets are made, inch."""
BOTH_UNITS: Final[dict[Unit, tuple[str, ...]]] = {
    "in": ("0.1001", "0.1002", "0.101", "0.15", "2", "4"),
    "mm": ("1.0005", "1.001", "1.01", "1.27", "25", "100"),
}
"""Some are lengths on both grids."""
WEAR: Final = inch("0.05")


class Options(TypedDict):
    """By keyword."""

    objective: Objective
    joint_allowance: int
    exclude: tuple[str, ...]
    only: tuple[str, ...] | None
    error_measure: ErrorMeasure
    required_ratios: tuple[RequiredRatio, ...]


class WholeRequest(Struct, frozen=True, kw_only=True):
    """The arguments of `wrung.solve`."""

    blocks: tuple[Block, ...]
    targets: tuple[AnyTarget, ...]
    objective: Objective
    joint_allowance: int
    exclude: tuple[str, ...] = ()
    only: tuple[str, ...] | None = None
    error_measure: ErrorMeasure = WORST_CASE
    required_ratios: tuple[RequiredRatio, ...] = ()

    def options(self) -> Options:
        """The options of `wrung.solve` and `wrung.verify`."""
        return {
            "objective": self.objective,
            "joint_allowance": self.joint_allowance,
            "exclude": self.exclude,
            "only": self.only,
            "error_measure": self.error_measure,
            "required_ratios": self.required_ratios,
        }

    def problem(self) -> Problem:
        """What engines are asked."""
        return build_problem(
            Order(
                blocks=self.blocks,
                targets=self.targets,
                objective=self.objective,
                joint_allowance=self.joint_allowance,
                exclude=self.exclude,
                only=self.only,
                error_measure=self.error_measure,
                required_ratios=self.required_ratios,
            )
        )

    def requirements(self) -> list[Requirement]:
        """The stacks wanted."""
        return [each for target in self.targets for each in target.requirements()]

    def usable(self) -> list[Block]:
        """The blocks that may be used."""
        return [
            block
            for block in self.blocks
            if block.id not in self.exclude and (self.only is None or block.id in self.only)
        ]


@st.composite
def whole_requests(draw: st.DrawFn) -> WholeRequest:
    """3 to 12 blocks, 1 to 4 stacks; each option is drawn often enough to be met many times."""
    blocks = draw(st.sampled_from((*[_one_shelf] * 3, _two_sets, *[_two_units] * 2)))(draw)
    targets = tuple(_targets(draw, blocks))
    measure = draw(st.sampled_from((*[WORST_CASE] * 4, *MEASURES)))
    ratios = _ratios(draw, targets, measure) if draw(st.integers(0, 9)) == 0 else ()
    return WholeRequest(
        blocks=blocks,
        targets=targets,
        objective=draw(st.sampled_from(("fewest_blocks", "least_error"))),
        joint_allowance=draw(st.sampled_from((0, parse("1", "uin"), um("0.1")))),
        exclude=_some_names(draw, blocks),
        only=tuple(b.id for b in blocks if b.id not in _some_names(draw, blocks))
        if draw(st.integers(0, 4)) == 0
        else None,
        error_measure=measure,
        required_ratios=ratios,
    )


def _one_shelf(draw: st.DrawFn) -> tuple[Block, ...]:
    count = draw(st.integers(LEAST_BLOCKS, MOST_BLOCKS))
    blocks = draw(shelves(min_blocks=count, max_blocks=count))
    return tuple(map(_older, blocks)) if draw(st.booleans()) else blocks


def _older(block: Block) -> Block:
    """Of an older inch grade, whose limits are unequal."""
    older = {"AS-1": "3", "0": "2"}
    if block.unit == "mm" or block.grade is None:
        return block
    return replace(block, grade=older.get(block.grade, block.grade))


def _two_sets(draw: st.DrawFn) -> tuple[Block, ...]:
    """What is left of two sets of one composition, one of them certified in part."""
    delivered = composition("inch-81").nominals
    blocks: list[Block] = []
    for name, wear in (("a", (WEAR, WEAR)), ("b", ())):
        kept = draw(st.lists(st.sampled_from(KEPT), min_size=2, max_size=5, unique=True))
        missing = tuple(n for n in delivered if n not in {inch(text) for text in kept})
        one = GaugeSet(
            id=name, composition="inch-81", grade="AS-1", missing=missing, wear_block_nominals=wear
        )
        blocks += one.blocks()
    known = draw(st.integers(0, len(blocks)))
    return (*(_certified(draw, block) for block in blocks[:known]), *blocks[known:])


def _two_units(draw: st.DrawFn) -> tuple[Block, ...]:
    """Of an inch set and a metric set: what they add up to has no step but a very small one."""
    blocks = [
        Block(id=f"{unit}{place}", nominal=parse(text, unit), limit_deviation=um("0.1"), unit=unit)
        for unit, lengths in BOTH_UNITS.items()
        for place, text in enumerate(
            draw(st.lists(st.sampled_from(lengths), min_size=2, max_size=MOST_BLOCKS // 2))
        )
    ]
    return tuple(
        _certified(draw, replace(block, limit_deviation=None)) if draw(st.booleans()) else block
        for block in blocks
    )


def _certified(draw: st.DrawFn, block: Block) -> Block:
    deviation = draw(st.integers(-4, 4)) * parse("1", "uin")
    return replace(block, deviation=deviation, expanded_uncertainty=parse("2", "uin"))


def _targets(draw: st.DrawFn, blocks: Sequence[Block]) -> Iterator[AnyTarget]:
    left, plain = draw(st.sampled_from(STACKS)), draw(st.integers(0, 2)) == 0
    priorities = draw(st.sampled_from(PRIORITIES))
    while left:
        one = draw(length_targets(blocks, ref=f"t{left}"))
        if plain:
            one = LengthTarget(ref=one.ref, length=one.length)
        one = replace(one, priority=draw(st.sampled_from(priorities)))
        points = draw(st.integers(1, 8)) if left > 1 else 1
        if not 1 < points <= left:
            yield one
            left -= 1
            continue
        more = [draw(length_targets(blocks)).length for _ in range(points - 1)]
        yield CheckPointsTarget(
            ref=one.ref,
            points=(one.length, *more),
            max_blocks=one.max_blocks,
            wear_blocks=one.wear_blocks,
            needed_from=one.needed_from,
            needed_until=one.needed_until,
            priority=one.priority,
        )
        left -= points


def _ratios(
    draw: st.DrawFn, targets: Sequence[AnyTarget], measure: ErrorMeasure
) -> tuple[RequiredRatio, ...]:
    """For some stacks; a variance is asked of the tolerance by its root."""
    names = [each.name for target in targets for each in target.requirements()]
    width = um("4") if measure.by_variance else um("2")
    return tuple(
        RequiredRatio(
            target=name.target,
            role=name.role,
            width=width,
            ratio=Fraction(draw(st.integers(5, 80)), 10),
        )
        for name in draw(st.lists(st.sampled_from(names), min_size=1, unique=True))
    )


def _some_names(draw: st.DrawFn, blocks: Sequence[Block]) -> tuple[str, ...]:
    if draw(st.integers(0, 3)):
        return ()
    return tuple(draw(st.lists(st.sampled_from([b.id for b in blocks]), max_size=2, unique=True)))


def options_of(request: WholeRequest) -> Iterator[str]:
    """Names of the options that a request makes use of."""
    wanted = request.requirements()
    yield request.objective
    yield f"{len(wanted)} stacks"
    yield "certified" if any(b.deviation for b in request.blocks) else "no certificate"
    yield f"measure {request.error_measure.kind}"
    present = {
        "many blocks": len(request.usable()) > MOST_BLOCKS - 4,
        "negative deviation": any((b.deviation or 0) < 0 for b in request.blocks),
        "joint allowance": bool(request.joint_allowance),
        "exclude": bool(request.exclude),
        "only": request.only is not None,
        "mixed units": len({block.unit for block in request.blocks}) > 1,
        "several sets": len({block.set for block in request.blocks}) > 1,
        "window": any(r.tolerance.lower < r.tolerance.upper for r in wanted),
        "max blocks": any(r.max_blocks is not None for r in wanted),
        "one wear block": any(r.wear_blocks == "one" for r in wanted),
        "two wear blocks": any(r.wear_blocks == "both" for r in wanted),
        "times": any(r.needed_from or r.needed_until for r in wanted),
        "sequence": any(r.turn for r in wanted),
        "corrected": request.error_measure.corrected,
        "unequal limits": request.error_measure.unequal_limits,
        "required ratio": bool(request.required_ratios),
        "step block": any(b.body is not None for b in request.usable()),
        "priorities": len({r.priority for r in wanted}) > 1,
    }
    yield from chosen(present)


def chosen(names: Mapping[str, bool]) -> list[str]:
    """The names that hold."""
    return [name for name, so in names.items() if so]
