"""From what a survey found to the wire, in the client's unit."""

from typing import Final

from wrung.coverage import Addition, Additions, LengthGrid, Reach, Run
from wrung.lengths import SMALL_UNIT, Unit, to_text
from wrung_service.api.coverage.answer import (
    BestAdditions,
    BlockAddition,
    BlockLoss,
    BlocksNeeded,
    BuildableLengths,
    CoverageAnswer,
    CoveredRange,
    LengthGap,
    LengthRun,
)
from wrung_service.api.coverage.reading import CoverageReading
from wrung_service.api.metrology.overdue import write_overdue
from wrung_service.api.stacks.writing import write_to_add
from wrung_service.usecases.survey_coverage import SurveyedCoverage

# Rounded down in whole numbers, so that 1 is said only where nothing is missing.
_SHARES: Final = 1_000_000


def write_coverage(
    surveyed: SurveyedCoverage, reading: CoverageReading, *, waited_ms: float = 0.0
) -> CoverageAnswer:
    """The answer as it stands on the wire."""
    found, unit = surveyed.coverage, reading.body.unit
    losses = None
    if found.losses is not None:
        losses = tuple(
            BlockLoss(
                id=each.block,
                lengths_lost=each.lengths_lost,
                lengths_with_more_blocks=each.lengths_with_more_blocks,
            )
            for each in found.losses
        )
    return CoverageAnswer(
        unit=unit,
        outcome=found.outcome,
        range=_range(found.grid, unit),
        max_blocks=found.max_blocks,
        buildable=_buildable(found.reach, unit) if found.reach else None,
        losses=losses,
        additions=_additions(found.additions) if found.additions else None,
        overdue_blocks=write_overdue(reading.query.left_out),
        used_on=reading.query.used_on,
        picture=surveyed.picture,
        solve_ms=round(found.solve_ms, 2),
        waited_ms=round(waited_ms, 1),
    )


def _range(grid: LengthGrid, unit: Unit) -> CoveredRange:
    return CoveredRange(
        start=to_text(grid.start, unit),
        stop=to_text(grid.points[-1], unit),
        step=to_text(grid.step, unit),
        length_count=len(grid.points),
    )


def _buildable(reach: Reach, unit: Unit) -> BuildableLengths:
    return BuildableLengths(
        length_count=reach.buildable_count,
        share=reach.buildable_count * _SHARES // len(reach.fewest) / _SHARES,
        by_block_count=tuple(
            BlocksNeeded(block_count=each.block_count, length_count=each.length_count)
            for each in reach.histogram
        ),
        runs=tuple(_run(run, unit) for run in reach.runs),
        run_count=reach.run_count,
        gaps=tuple(_gap(gap, unit) for gap in reach.gaps),
        gap_count=reach.gap_count,
    )


def _run(run: Run, unit: Unit) -> LengthRun:
    return LengthRun(
        first=to_text(run.first, unit),
        last=to_text(run.last, unit),
        length_count=run.length_count,
        buildable=run.buildable,
        max_blocks_needed=run.max_blocks_needed,
    )


def _gap(gap: Run, unit: Unit) -> LengthGap:
    return LengthGap(
        first=to_text(gap.first, unit), last=to_text(gap.last, unit), length_count=gap.length_count
    )


def _additions(found: Additions) -> BestAdditions:
    return BestAdditions(
        blocks_compared=found.blocks_compared,
        single_blocks=tuple(_addition(each) for each in found.single_blocks),
        best_pair=_addition(found.best_pair) if found.best_pair else None,
        best_pair_proven=found.best_pair_proven,
    )


def _addition(addition: Addition) -> BlockAddition:
    return BlockAddition(
        blocks=tuple(write_to_add(wanted, SMALL_UNIT[wanted.unit]) for wanted in addition.blocks),
        lengths_gained=addition.lengths_gained,
        lengths_with_fewer_blocks=addition.lengths_with_fewer_blocks,
    )
