"""An angle by angle gauge blocks that add or subtract; no stack of length is needed for it.

Which blocks stand for which target is planned case by case, see `wrung.targets.angle_cases`.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Annotated, ClassVar, Final

from msgspec import Meta

from wrung.angle_blocks.compositions import AngleComposition, angle_composition, angle_grade
from wrung.angles import DEGREE, to_dms
from wrung.answers import Stack, Unmet, UnmetReason
from wrung.errors import Fault, not_negative, require, unless
from wrung.measures import Angle, Seconds
from wrung.targets.base import Count, Name, TargetResult, TimedTarget
from wrung.targets.requirement import Requirement, Tolerance
from wrung.targets.tolerance_ratios import seconds_remarks
from wrung.texts import Phrase, figure, phrase

_WIDEST_WINDOW: Final = DEGREE
_BEYOND: Final = 180 * DEGREE


class AngleBlocksTarget(TimedTarget, frozen=True, kw_only=True, tag="angle_blocks"):
    r"""Angle blocks from a case, wrung to an angle.

    Targets that name the same case share its blocks.

    In Python, angles are in quanta of 1e-9 seconds of arc, see `wrung.angle`.

    >>> target = AngleBlocksTarget(ref="v-block", angle=angle("33°11'36\""), composition="angle-16")
    >>> to_dms(target.angle)
    '33°11\'36.0"'
    """

    cautions: ClassVar[tuple[str, ...]] = ("caution.solvent", "caution.calibration")

    angle: Annotated[Angle, Meta(description="The wanted angle.")]
    composition: Annotated[
        Name,
        Meta(
            description="The set: `angle-13`, `angle-12`, `angle-12-square`, `angle-16`, "
            "`angle-11` or `angle-6`.",
            examples=["angle-16"],
        ),
    ]
    case: Annotated[
        Name | None,
        Meta(
            description="Name of the case that the blocks are taken from; by default that of "
            "the composition. Targets with the same case share its blocks, each of "
            "which is used once at a time. What one target says about the case "
            "holds for all of them."
        ),
    ] = None
    missing: Annotated[
        tuple[Angle, ...],
        Meta(max_length=20, description="Nominal angles of blocks that are not in the case."),
    ] = ()
    max_angle_error: Annotated[
        Seconds, Meta(description="Largest angle error allowed, in seconds.")
    ] = 0
    max_blocks: Annotated[Count | None, Meta(description="Maximum number of blocks.")] = None
    grade: Annotated[
        Name | None,
        Meta(description="Grade of the case: `laboratory`, `inspection` or `toolroom`."),
    ] = None
    limit_deviation: Annotated[
        Seconds | None,
        Meta(description="How much one block may be wrong by; takes precedence over the grade."),
    ] = None

    @property
    def case_name(self) -> str:
        """The case that the blocks are taken from."""
        return self.composition if self.case is None else self.case

    def requirements(self) -> tuple[Requirement, ...]:
        """None: it takes no gauge blocks of length."""
        self._check()
        return ()

    def angle_requirement(self) -> Requirement:
        """What is wanted of the case; quanta of 1e-9 seconds in place of those of a length."""
        return Requirement(
            target=self.ref,
            length=self.angle,
            tolerance=Tolerance(lower=-self.max_angle_error, upper=self.max_angle_error),
            max_blocks=self.max_blocks,
            needed_from=self.needed_from,
            needed_until=self.needed_until,
            turn=self.turn(),
            setup=self.setup,
            priority=self.priority,
        )

    def results(self, stacks: Sequence[Stack], unmet: Sequence[Unmet] = ()) -> "AngleBlocksResult":
        """The blocks to take, or the nearest angles that there are blocks for."""
        built = next((stack for stack in stacks if stack.target == self.ref), None)
        missed = next((each for each in unmet if each.target == self.ref), None)
        if built is not None:
            return self._served(built)
        return AngleBlocksResult(target=self.ref) if missed is None else self._missed(missed)

    def _served(self, built: Stack) -> "AngleBlocksResult":
        # A block that is turned over comes with a negative nominal angle: here the signs part.
        nominals = sorted((block.nominal for block in built.blocks), key=abs, reverse=True)
        return AngleBlocksResult(
            target=self.ref,
            # The error is part of the worst case already.
            remarks=(
                *seconds_remarks(self.max_angle_error, 0, built.worst_case_error),
                *self._unchecked(),
            ),
            added_blocks=tuple(nominal for nominal in nominals if nominal > 0),
            subtracted_blocks=tuple(-nominal for nominal in nominals if nominal < 0),
            angle_reached=built.nominal,
            error=built.nominal - self.angle,
            worst_case_error=built.worst_case_error,
        )

    def _missed(self, missed: Unmet) -> "AngleBlocksResult":
        holders = figure("targets", ", ".join(missed.held_by))
        said = {
            "cannot_be_built": phrase("angle.none"),
            "blocks_in_use": phrase("angle.in_use", holders),
            "not_decided": phrase("angle.not_decided"),
        }
        return AngleBlocksResult(
            target=self.ref,
            remarks=(said[missed.reason],),
            reason=missed.reason,
            held_by=missed.held_by,
            nearest_below=missed.nearest_below.length if missed.nearest_below else None,
            nearest_above=missed.nearest_above.length if missed.nearest_above else None,
        )

    def _unchecked(self) -> Iterator[Phrase]:
        """A remark if the limit that the error rests on was not compared with print."""
        if self.limit_deviation is not None:
            return
        found = angle_grade(self.grade) if self.grade else self._set()
        if found.checked == "no":
            yield phrase("angle.from_memory")

    def _set(self) -> AngleComposition:
        return angle_composition(self.composition)

    def _check(self) -> None:
        require(
            unless(
                0 < self.angle < _BEYOND,
                "angle",
                "must be greater than 0 and less than 180 degrees",
            ),
            unless(
                0 <= self.max_angle_error <= _WIDEST_WINDOW,
                "max_angle_error",
                "must be from 0 to 3600 seconds",
            ),
            *not_negative(self, "limit_deviation"),
            *self._missing_faults(),
        )
        # Nothing lies beyond all blocks added; within that, only the search can tell.
        reach = sum(self._set().nominals) - sum(self.missing)
        detail = f"is beyond the reach of these blocks, {to_dms(reach)}"
        require(unless(self.angle - self.max_angle_error <= reach, "angle", detail))
        if self.grade is not None:
            angle_grade(self.grade)

    def _missing_faults(self) -> tuple[Fault | None, ...]:
        there = Counter(self._set().nominals)
        # Not with `-`, which drops what falls below zero: exactly those are the faults.
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
    """Angle blocks to wring together, and the angle they make."""

    added_blocks: Annotated[
        tuple[Angle, ...], Meta(description="Blocks whose angle adds, largest first.")
    ] = ()
    subtracted_blocks: Annotated[
        tuple[Angle, ...], Meta(description="Blocks turned over, whose angle subtracts.")
    ] = ()
    angle_reached: Annotated[Angle | None, Meta(description="Sum of the blocks' angles.")] = None
    error: Annotated[Seconds | None, Meta(description="That sum less the wanted angle.")] = None
    worst_case_error: Annotated[
        Seconds | None,
        Meta(description="The size of that error plus what each block may be wrong by."),
    ] = None
    reason: Annotated[
        UnmetReason | None, Meta(description="Why there are no blocks, as in `unmet`.")
    ] = None
    held_by: Annotated[
        tuple[str, ...],
        Meta(description="For `blocks_in_use`, the targets with blocks that this one would take."),
    ] = ()
    nearest_below: Annotated[
        Angle | None,
        Meta(
            description="Nearest smaller angle that can be built; null if this one can. For "
            "`blocks_in_use`, built from the blocks that are free while it is "
            "needed."
        ),
    ] = None
    nearest_above: Annotated[Angle | None, Meta(description="Nearest larger one, likewise.")] = None
