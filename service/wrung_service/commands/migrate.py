"""``wrung migrate``: brings the database of the crib to the revision that this version needs."""

import click

from wrung_service.commands.looking_after import done, option_of_store
from wrung_service.commands.service import needing_service
from wrung_service.commands.status import after_help


@click.command(
    epilog=after_help(
        "wrung migrate --store-url sqlite:///crib.db",
        "wrung migrate --store-url postgresql://owner@db/crib --role wrung",
    )
)
@option_of_store("; PostgreSQL: as its owner.")
@click.option(
    "--role",
    metavar="NAME",
    help="PostgreSQL: the role that the service runs as. It may then do what the service does, and "
    "can neither change history nor switch off a rule.",
)
def migrate(store_url: str, role: str | None) -> None:
    """Make the tables of an empty database, or change those of an older one. Back it up first."""
    migrate_store = needing_service("migrate", "migrate_store")
    done(migrate_store, store_url, role)
    click.echo("The database has the newest revision.")
