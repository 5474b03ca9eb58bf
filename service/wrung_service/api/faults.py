"""Collects all that is wrong with a request, so that it is refused once."""

from typing import Final, TypeAlias

from wrung.errors import Fault

MOST_FAULTS: Final = 20
"""A longer list would not help; a request is refused with the first ones."""

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
    """Collects faults, and knows whether one of them breaks the published schema."""

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
        """Note that a member matches the schema, but its value cannot be processed.

        Args:
            at: its JSON pointer.
            detail: what is wrong with it.
        """
        self._note(at, detail)

    def _note(self, at: str, detail: str) -> None:
        # Both may quote the request, and the answer must not grow with that.
        fault = Fault(pointer=cut(at), detail=cut(detail))
        # Two checks may find the same; it is said once.
        if not self.full and fault not in self.found:
            self.found.append(fault)
