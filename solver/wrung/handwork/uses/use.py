"""Something to do with a stack."""

from collections.abc import Iterator
from typing import TypeAlias

from wrung.texts import Phrase

Uses: TypeAlias = Iterator[tuple[str | None, Phrase]]
"""The part that a stack plays in its target, and something to do with it; in order."""
