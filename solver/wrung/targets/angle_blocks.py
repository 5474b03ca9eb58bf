"""An angle by angle gauge blocks that add or subtract; no stack of length is needed for it."""

from collections import Counter
from collections.abc import Sequence
from typing import Annotated, ClassVar, Final

from msgspec import Meta

from wrung.angle_blocks.combination import Combination, Search, search
from wrung.angle_blocks.compositions import AngleComposition, angle_composition, grade_limit
from wrung.angles import DEGREE, to_dms
from wrung.answers import Stack, Unmet
from wrung.errors import Fault
from wrung.measures import Angle, Seconds
from wrung.targets.base import AnyTarget, Count, Name, TargetResult, require, unless
from wrung.targets.requirement import Requirement
from wrung.texts import phrase

_WIDEST_WINDOW: Final = DEGREE
_BEYOND: Final = 180 * DEGREE


class AngleBlocksTarget(AnyTarget, frozen=True, kw_only=True, tag="angle_blocks"):
    """The fewest angle blocks of a set for an angle.

    Each such target has the whole set to itself.
    """

    cautions: ClassVar[tuple[str, ...]] = ("caution.burr", "caution.solvent", "caution.calibration")

    angle: Annotated[Angle, Meta(description="The wanted angle.")]
    composition: Annotated[
        Name,
        Meta(
            description="The set: `angle-13`, `angle-12-square` or `angle-16`.",
            examples=["angle-16"],
        ),
    ]
    missing: Annotated[
        tuple[Angle, ...], Meta(max_length=20, description="Nominal angles not in the case.")
    ] = ()
    within: Annotated[
        Seconds, Meta(description="Angle error allowed for the choice of blocks, in seconds.")
    ] = 0
    max_blocks: Annotated[Count | None, Meta(description="Most blocks.")] = None
    grade: Annotated[
        Name | None,
        Meta(description="`laboratory`, `inspection` or `toolroom`."),
    ] = None
    limit_deviation: Annotated[
        Seconds | None, Meta(description="What one block may be off; goes before the grade.")
    ] = None

    def requirements(self) -> tuple[Requirement, ...]:
        """None: it takes no gauge blocks of length."""
        self._check()
        return ()

    def results(self, stacks: Sequence[Stack], unmet: Sequence[Unmet] = ()) -> "AngleBlocksResult":
        """The blocks to take, or the nearest angles that there are blocks for."""
        del stacks, unmet
        self._check()
        found = search(self._nominals(), self.angle, self.within, self.max_blocks)
        return self._result(found)

    def _result(self, found: Search) -> "AngleBlocksResult":
        best, below, above = found.best, found.below, found.above
        total = None if best is None else best.total
        error = None if total is None else total - self.angle
        margin = None if best is None else self._limit() * _count(best)
        return AngleBlocksResult(
            ref=self.ref,
            remarks=() if best else (phrase("angle.none"),),
            adding=best.adding if best else (),
            subtracting=best.subtracting if best else (),
            angle_reached=total,
            error=error,
            worst_case_error=None if error is None or margin is None else abs(error) + margin,
            nearest_below=below.total if below else None,
            nearest_above=above.total if above else None,
        )

    def _limit(self) -> int:
        if self.limit_deviation is not None:
            return self.limit_deviation
        return self._set().limit if self.grade is None else grade_limit(self.grade)

    def _set(self) -> AngleComposition:
        return angle_composition(self.composition)

    def _nominals(self) -> tuple[int, ...]:
        left = Counter(self._set().nominals) - Counter(self.missing)
        return tuple(sorted(left.elements(), reverse=True))

    def _check(self) -> None:
        require(
            unless(
                0 < self.angle < _BEYOND,
                "angle",
                "must be greater than 0 and less than 180 degrees",
            ),
            unless(0 <= self.within <= _WIDEST_WINDOW, "within", "must be from 0 to 3600 seconds"),
            unless(
                self.limit_deviation is None or self.limit_deviation >= 0,
                "limit_deviation",
                "must not be negative",
            ),
            *self._missing_faults(),
        )
        reach = sum(self._nominals())
        detail = f"is beyond the reach of these blocks, {to_dms(reach)}"
        require(unless(self.angle - self.within <= reach, "angle", detail))
        self._limit()

    def _missing_faults(self) -> tuple[Fault | None, ...]:
        there = Counter(self._set().nominals)
        there.subtract(self.missing)
        return tuple(
            unless(
                there[nominal] >= 0,
                f"missing/{k}",
                f"{self.composition} has no such block: {to_dms(nominal)}",
            )
            for k, nominal in enumerate(self.missing)
        )


class AngleBlocksResult(TargetResult, frozen=True, kw_only=True, tag="angle_blocks"):
    """Angle blocks to wring together, and what they give."""

    adding: Annotated[
        tuple[Angle, ...], Meta(description="Blocks whose angle adds, largest first.")
    ]
    subtracting: Annotated[
        tuple[Angle, ...], Meta(description="Blocks turned over, whose angle subtracts.")
    ]
    angle_reached: Annotated[Angle | None, Meta(description="Sum of the blocks' angles.")]
    error: Annotated[Seconds | None, Meta(description="That sum less the wanted angle.")]
    worst_case_error: Annotated[
        Seconds | None, Meta(description="Its size, and what each block may be off.")
    ]
    nearest_below: Annotated[
        Angle | None, Meta(description="Nearest smaller angle, where this one cannot be built.")
    ]
    nearest_above: Annotated[Angle | None, Meta(description="Nearest larger one, likewise.")]


def _count(combination: Combination) -> int:
    return len(combination.adding) + len(combination.subtracting)
