"""Everything wrong with one request, gathered before it is refused."""

from typing import Final, TypeAlias

from wrung.errors import Fault

MOST_FAULTS: Final = 20
"""More faults than this help nobody; a request is refused with the first ones."""

_LONGEST: Final = 500
"""Characters of a pointer or a sentence; an id of 128 fits, and what is said of it."""

Path: TypeAlias = tuple[str | int, ...]


def pointer(path: Path) -> str:
    """The JSON pointer (RFC 6901) of a path."""
    return "".join(f"/{str(part).replace('~', '~0').replace('/', '~1')}" for part in path)


def cut(text: str) -> str:
    """The text, or as much of it as anyone needs to find what is meant."""
    return text if len(text) <= _LONGEST else f"{text[:_LONGEST]}…"


class Faults:
    """Gathers faults; knows whether one breaks the published schema or all only make no sense."""

    def __init__(self) -> None:
        self.found: list[Fault] = []
        self.breaks_schema = False

    @property
    def full(self) -> bool:
        """Whether enough was found to refuse the request."""
        return len(self.found) >= MOST_FAULTS

    def invalid(self, path: Path, detail: str) -> None:
        """Note that a member breaks the published schema."""
        self.breaks_schema = True
        self._note(pointer(path), detail)

    def meaningless(self, at: str, detail: str) -> None:
        """Note that a member is well formed, but means nothing here; ``at`` is its pointer."""
        self._note(at, detail)

    def _note(self, at: str, detail: str) -> None:
        # Both may quote the request, and the answer must not grow with that.
        fault = Fault(pointer=cut(at), detail=cut(detail))
        # Two checks may find the same; it is said once.
        if not self.full and fault not in self.found:
            self.found.append(fault)
