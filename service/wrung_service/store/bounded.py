"""A connection to PostgreSQL that never waits for ever.

The server's own limits end what takes too long there. They do nothing where the server itself is
frozen, or where the line is cut and nobody says so: the other machine's kernel may still confirm
each packet, so that those of TCP do nothing either. Then only a clock on this side helps.
"""

from typing import Any, Final, TypeVar

import psycopg
import sqlalchemy as sa
from psycopg.abc import PQGen
from psycopg.pq import TransactionStatus
from sqlalchemy import event

T = TypeVar("T")

GREETING_S: Final = 2.0
"""What a server may take for the empty statement that asks whether it is there."""


class BoundedConnection(psycopg.Connection[Any]):
    """Gives up after ``patience_s`` without an answer, and is closed then."""

    patience_s: float = GREETING_S

    def wait(self, gen: PQGen[T], interval: float = 0.1, timeout: float | None = None) -> T:
        """As the driver waits for each answer, but not longer than that.

        Raises:
            OperationalError: there was no answer in time.
        """
        try:
            return super().wait(gen, interval, self.patience_s if timeout is None else timeout)
        except psycopg.OperationalError:
            # Its answer may still come, and would be taken for that of the next statement.
            if self.pgconn.transaction_status == TransactionStatus.ACTIVE:
                self.pgconn.finish()
            raise


def bound(engine: sa.Engine, statement_s: float) -> None:
    """Let all connections of an engine wait so long for a statement, and less for a greeting."""

    def connect(_: object, __: object, arguments: list[Any], named: dict[str, Any]) -> Any:  # noqa: ANN401 - of the driver
        return BoundedConnection.connect(*arguments, **named)

    def patience(seconds: float) -> Any:  # noqa: ANN401 - a listener of any event
        def listen(connection: BoundedConnection | None, *_: object) -> None:
            if connection is not None:
                connection.patience_s = seconds

        return listen

    event.listen(engine, "do_connect", connect)
    event.listen(engine, "checkout", patience(statement_s))
    # The pool greets a connection between its return and its next use.
    event.listen(engine, "checkin", patience(GREETING_S))
