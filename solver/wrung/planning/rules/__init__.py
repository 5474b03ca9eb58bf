"""The rules of the direct model, one file each.

A rule adds its constraints to the model and stops after each portion of work, so that the caller
that builds the model can check the clock.
"""

from collections.abc import Callable, Iterator
from typing import TypeAlias

from wrung.planning.blockwise.choices import Choices
from wrung.planning.blockwise.scaled import Scaled

Rule: TypeAlias = Callable[[Scaled, Choices], Iterator[None]]
