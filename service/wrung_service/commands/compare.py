"""``wrung compare``: what one set can build against another."""

from collections.abc import Sequence
from math import gcd

import click

import wrung
from wrung.compositions import Composition, composition
from wrung.coverage import Coverage, LengthGrid
from wrung.errors import InputError, LengthError
from wrung.gauge_sets import GaugeSet
from wrung.lengths import parse
from wrung_service.commands.asking import refuse
from wrung_service.commands.printed_comparison import ComparedSets, comparison_lines
from wrung_service.commands.status import after_help


@click.command(
    name="compare",
    epilog=after_help(
        "wrung compare inch-81 inch-36",
        "wrung compare inch-81 inch-81 --missing 0.1004 --max-blocks 4",
        "wrung compare metric-103 inch-81 --from 5 --to 25 --step 0.005",
    ),
)
@click.argument("first")
@click.argument("second")
@click.option("--from", "start", help="Shortest length; the shortest block of FIRST if left out.")
@click.option("--to", "stop", help="Longest length; the longest block of FIRST if left out.")
@click.option("--step", help="Distance of the lengths; what FIRST is made in if left out.")
@click.option("--max-blocks", type=click.IntRange(1, 250), help="Most blocks in a stack.")
@click.option("--missing", multiple=True, help="A block that FIRST lacks; as often as needed.")
def compare_sets(  # noqa: PLR0913 -- the options of a command
    *,
    first: str,
    second: str,
    start: str | None,
    stop: str | None,
    step: str | None,
    max_blocks: int | None,
    missing: Sequence[str],
) -> None:
    """Tell which lengths set FIRST builds, which SECOND builds, and with how many blocks.

    Both are names of compositions; lengths are in the unit of FIRST. Each length is looked at by
    itself, with every block free.
    """
    try:
        one, other = composition(first), composition(second)
        gone = tuple(parse(text, one.unit) for text in missing)
        grid = _grid(one, start, stop, step)
        surveys = (_survey(one, gone, grid, max_blocks), _survey(other, (), grid, max_blocks))
        compared = wrung.compare_coverage(*surveys)
    except LengthError as error:
        refuse([f"{error}."])
    except InputError as error:
        refuse([f"{fault.pointer.strip('/')}: {fault.detail}" for fault in error.faults])
    names = (f"{one.id}, {len(gone)} missing" if gone else one.id, other.id)
    shown = ComparedSets(names=names, unit=one.unit, surveys=surveys, compared=compared)
    click.echo("\n".join(comparison_lines(shown)))


def _grid(known: Composition, start: str | None, stop: str | None, step: str | None) -> LengthGrid:
    least, most = known.nominals[0], known.nominals[-1]
    return LengthGrid(
        start=least if start is None else parse(start, known.unit),
        stop=most if stop is None else parse(stop, known.unit),
        step=gcd(*known.nominals) if step is None else parse(step, known.unit),
    )


def _survey(
    known: Composition, missing: tuple[int, ...], grid: LengthGrid, most: int | None
) -> Coverage:
    # Lengths are nominal, so that no grade matters.
    whole = GaugeSet(id=known.id, composition=known.id, limit_deviation=0, missing=missing)
    return wrung.coverage_of(whole.blocks(), grid, max_blocks=most, offers=())
