"""A moment in time as both databases keep it."""

from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator, TypeEngine

_WIDTH = 27


class Instant(TypeDecorator[datetime]):
    """A moment: ``timestamptz`` on PostgreSQL, UTC text of one width on SQLite.

    Of one width, so that text sorts as the moments do. Times without an offset are refused.
    """

    impl = sa.DateTime(timezone=True)
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        """The column's type."""
        on_sqlite = dialect.name == "sqlite"
        return dialect.type_descriptor(
            sa.String(_WIDTH) if on_sqlite else sa.DateTime(timezone=True)
        )

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> Any:  # noqa: ANN401 - as the base
        """On its way into the database."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("an instant needs its offset from UTC")
        moment = value.astimezone(UTC)
        return as_text(moment) if dialect.name == "sqlite" else moment

    def process_result_value(self, value: Any | None, dialect: Dialect) -> datetime | None:  # noqa: ANN401, ARG002 - as the base
        """On its way out, in UTC."""
        if value is None:
            return None
        read = datetime.fromisoformat(value) if isinstance(value, str) else value
        return read.astimezone(UTC)


def as_text(moment: datetime) -> str:
    """The moment in UTC with microseconds, 27 characters."""
    # Not strftime, which writes years below 1000 with fewer digits on some systems.
    utc = moment.astimezone(UTC).replace(tzinfo=None)
    return f"{utc.isoformat(timespec='microseconds')}Z"
