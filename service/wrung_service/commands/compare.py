"""``wrung compare``: what one set can build against another."""

from collections.abc import Sequence
from math import gcd

import click

import wrung
from wrung.blocks import Blocks
from wrung.coverage import Coverage, LengthGrid
from wrung.errors import Fault, InputError, LengthError
from wrung.lengths import parse
from wrung_service.api.problems import Refusal
from wrung_service.commands.asking import refuse
from wrung_service.commands.compared_shelves import ComparedShelf, shelf_of
from wrung_service.commands.language import Spoken, language_option
from wrung_service.commands.looking_after import done, url_from_environment
from wrung_service.commands.printed_comparison import ComparedSets, comparison_lines
from wrung_service.commands.service import needing_service
from wrung_service.commands.status import after_help


@click.command(
    name="compare",
    epilog=after_help(
        "wrung compare inch-81 inch-36",
        "wrung compare inch-81 inch-81 --missing 0.1004 --max-blocks 4",
        "wrung compare metric-103 inch-81 --from 5 --to 25 --step 0.005",
        "wrung compare shelf.json:bench-3 metric-112-1",
        "wrung compare bench-3 bench-4 --site north-hall --store-url sqlite:///crib.db",
    ),
)
@click.argument("first")
@click.argument("second")
@click.option("--from", "start", help="Shortest length; the shortest block of FIRST if left out.")
@click.option("--to", "stop", help="Longest length; the longest block of FIRST if left out.")
@click.option("--step", help="Distance of the lengths; what FIRST is made in if left out.")
@click.option("--max-blocks", type=click.IntRange(1, 250), help="Most blocks in a stack.")
@language_option
@click.option("--missing", multiple=True, help="A block that FIRST lacks; as often as needed.")
@click.option("--site", metavar="ID", help="A site of a crib, whose sets can be named.")
@click.option("--store-url", metavar="VALUE", help="The crib's database, as for `wrung export`.")
def compare_sets(  # noqa: PLR0913 -- the options of a command
    *,
    first: str,
    second: str,
    start: str | None,
    stop: str | None,
    step: str | None,
    max_blocks: int | None,
    missing: Sequence[str],
    site: str | None,
    store_url: str | None,
    language: str,
) -> None:
    """Tell which lengths FIRST builds, which SECOND builds, and with how many blocks.

    Each is a composition; a file with a shelf, which is a request, or what `wrung export` printed
    as JSON or CSV; FILE:SET, one set of such a file; or a set of a --site, with the blocks that are
    fit for use. Lengths are in the unit of FIRST. Each length is looked at by itself, with every
    block free.
    """
    spoken = Spoken(language=language)
    crib = _crib(site, store_url)
    try:
        one, other = shelf_of(first, crib).without(missing), shelf_of(second, crib)
        grid = _grid(one, start, stop, step)
        surveys = (_survey(one, grid, max_blocks), _survey(other, grid, max_blocks))
        compared = wrung.compare_coverage(*surveys)
    except LengthError as error:
        refuse([f"{spoken.refusal(str(error))}."])
    except (InputError, Refusal) as error:
        refuse([f"{f.pointer.strip('/')}: {spoken.refusal(f.detail)}" for f in _faults(error)])
    spoken = Spoken(language=language, unit=one.unit)
    name = one.name
    if missing:
        name = spoken.say("printed.missing", name=name, count=len(missing))
    shown = ComparedSets(names=(name, other.name), surveys=surveys, compared=compared)
    click.echo("\n".join(comparison_lines(shown, spoken)))


def _crib(site: str | None, store_url: str | None) -> bytes | None:
    if site is None:
        return None
    url = store_url or url_from_environment()
    shelf: bytes = done(needing_service("compare", "export_shelf"), url, site, as_csv=False)
    return shelf


def _faults(error: InputError | Refusal) -> Sequence[Fault]:
    if isinstance(error, InputError):
        return error.faults
    return error.errors or [Fault(pointer="", detail=error.detail)]


def _grid(
    known: ComparedShelf, start: str | None, stop: str | None, step: str | None
) -> LengthGrid:
    nominals = [block.nominal for block in known.blocks]
    if not nominals:
        detail = f"{known.name} has no gauge block that is fit for use"
        raise InputError([Fault(pointer="/first", detail=detail)])
    return LengthGrid(
        start=min(nominals) if start is None else parse(start, known.unit),
        stop=max(nominals) if stop is None else parse(stop, known.unit),
        step=gcd(*nominals) if step is None else parse(step, known.unit),
    )


def _survey(known: ComparedShelf, grid: LengthGrid, most: int | None) -> Coverage:
    return wrung.coverage_of(Blocks(known.blocks), grid, max_blocks=most, offers=())
