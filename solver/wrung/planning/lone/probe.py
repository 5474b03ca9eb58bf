"""A question about one stack, and its answer."""

from typing import Final, Literal, TypeAlias

from msgspec import Struct

Want: TypeAlias = Literal["fewest", "longest", "shortest"]


class Window(Struct, frozen=True, kw_only=True):
    """Lengths ``low..high``, quanta, and which stack among those that have one is wanted."""

    low: int
    high: int
    want: Want


class Probe(Struct, frozen=True, kw_only=True):
    """The answer.

    Attributes:
        stack: ascending indexes of its pieces, or None.
        decided: whether the answer is proven: that the stack is the longest or shortest, or that
            there is none. A stack that is only wanted to exist is its own proof.
    """

    stack: tuple[int, ...] | None
    decided: bool


UNDECIDED: Final = Probe(stack=None, decided=False)
NO_STACK: Final = Probe(stack=None, decided=True)
