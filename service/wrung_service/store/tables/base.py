"""The one `MetaData`, and columns that many tables have."""

from typing import Any, Final

import sqlalchemy as sa

from wrung_service.store.instants import Instant

# Named by rule, so that migrations and error messages can rely on the names.
metadata: Final = sa.MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)

NAME: Final = sa.String(64)
ID: Final = sa.String(128)
# SQLite numbers rows by itself only where the column is called INTEGER.
NUMBER: Final = sa.BigInteger().with_variant(sa.Integer, "sqlite")


def text(name: str, kind: sa.types.TypeEngine[str] = ID, *, null: bool = False) -> sa.Column[Any]:
    """A column of text."""
    return sa.Column(name, kind, nullable=null)


def whole(name: str, *, null: bool = False, default: str | None = None) -> sa.Column[Any]:
    """A column of whole numbers, such as lengths in quanta."""
    return sa.Column(name, sa.BigInteger, nullable=null, server_default=default)


def moment(name: str, *, null: bool = False) -> sa.Column[Any]:
    """A column of moments."""
    return sa.Column(name, Instant, nullable=null)


def row_number() -> sa.Column[Any]:
    """A primary key that the database counts, and that nobody can choose."""
    return sa.Column("n", NUMBER, sa.Identity(always=True), primary_key=True)


def of_site() -> sa.Column[Any]:
    """The site that the row belongs to."""
    return sa.Column("site_id", NAME, sa.ForeignKey("site.id"), nullable=False)
