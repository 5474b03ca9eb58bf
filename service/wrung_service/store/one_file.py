"""Whether a connection of SQLite still has the file that stands under the name."""

import os
from pathlib import Path
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy import event, exc

from wrung_service.store.errors import UnavailableError

_FILE: Final = "file"
_GONE: Final = "The database file cannot be opened."


class OneFile:
    """The file of a database, by its name.

    An open connection goes on with a file that was removed, or with another put in its place: what
    it keeps then is gone with the last connection, though it was acknowledged.
    """

    def __init__(self, path: str) -> None:
        self._path = path
        self._found = False

    def watch(self, engine: sa.Engine) -> None:
        """Ask at each use of a connection, which takes microseconds."""
        event.listen(engine, "do_connect", _make_none)
        event.listen(engine, "connect", self._note)
        event.listen(engine, "checkout", self._check)

    def _note(self, _: object, record: Any) -> None:  # noqa: ANN401 - of the pool
        record.info[_FILE] = self._identity()
        self._found = self._found or record.info[_FILE] is not None

    def _check(self, _: object, record: Any, __: object) -> None:  # noqa: ANN401 - of the pool
        if not self._found or (there := self._identity()) == record.info.get(_FILE):
            return
        if there is None:
            raise UnavailableError(_GONE)
        # Another file, such as a backup that was put back: the pool connects anew.
        raise exc.DisconnectionError

    def _identity(self) -> tuple[int, int] | None:
        try:
            found = os.stat(self._path)  # noqa: PTH116 - a Path would take longer than the call
        except OSError:
            return None
        return found.st_dev, found.st_ino


def _make_none(_: object, __: object, arguments: list[Any], named: dict[str, Any]) -> None:
    # SQLite would make an empty file where there is none, also under a mistyped name.
    arguments[0] = f"{Path(arguments[0]).absolute().as_uri()}?mode=rw"
    named["uri"] = True
