"""``wrung export`` and ``wrung import``: the shelf of a site, out of a store and into one."""

import sys
from typing import BinaryIO, Final

import click

from wrung_service.commands.keys import whoever
from wrung_service.commands.looking_after import done, store_url_option
from wrung_service.commands.service import needing_service
from wrung_service.commands.status import after_help

_SITE: Final = click.option("--site", required=True, metavar="ID", help="The site.")
_CSV: Final = click.option(
    "--csv", "as_csv", is_flag=True, help="The blocks as CSV, instead of sets and blocks as JSON."
)


@click.command(
    name="export",
    epilog=after_help("wrung export --store-url sqlite:///crib.db --site north-hall > shelf.json"),
)
@store_url_option
@_SITE
@_CSV
def export_shelf(store_url: str, site: str, *, as_csv: bool) -> None:
    """Print all sets and blocks of a site."""
    shelf = done(needing_service("export", "export_shelf"), store_url, site, as_csv=as_csv)
    sys.stdout.buffer.write(shelf)


@click.command(
    name="import",
    epilog=after_help(
        "wrung import --store-url sqlite:///crib.db --site north-hall --preview shelf.json",
        "wrung import --store-url sqlite:///crib.db --site north-hall --csv blocks.csv",
    ),
)
@store_url_option
@_SITE
@_CSV
@click.option("--preview", is_flag=True, help="Only say what would change.")
@click.argument("shelf", type=click.File("rb"))
def import_shelf(
    store_url: str, site: str, shelf: BinaryIO, *, as_csv: bool, preview: bool
) -> None:
    """Bring sets and blocks into a site that is there, all or none, and print what changed."""
    report = done(
        needing_service("import", "import_shelf"),
        store_url,
        site,
        shelf.read(),
        by=whoever(),
        as_csv=as_csv,
        preview=preview,
    )
    sys.stdout.buffer.write(report)
