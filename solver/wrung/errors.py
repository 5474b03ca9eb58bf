"""Everything the library raises.

    WrungError
    ├── LengthError   a text that is no exact length
    └── InputError    one or more faults in what was asked for, each with a pointer

"Cannot be built" and "out of time" are outcomes of an answer, never exceptions.
"""

from collections.abc import Iterable, Mapping

from msgspec import Struct


class WrungError(Exception):
    """Base of every exception that the library raises on purpose."""


class LengthError(WrungError):
    """The text is not an exact length."""


class Fault(Struct, frozen=True, kw_only=True):
    """One thing wrong with the input.

    Attributes:
        pointer: JSON pointer (RFC 6901) to the offending member, such as ``/blocks/3/grade``.
        detail: what is wrong with it, in a sentence.
    """

    pointer: str
    detail: str


def not_positive(given: Mapping[str, float | None]) -> list[Fault]:
    """The faults of those values, by their pointers, that are given and not greater than zero."""
    return [
        Fault(pointer=pointer, detail="must be greater than zero")
        for pointer, value in given.items()
        if value is not None and not value > 0
    ]


class InputError(WrungError):
    """The request contradicts itself or names something that does not exist."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("; ".join(f"{fault.pointer}: {fault.detail}" for fault in self.faults))

    def __reduce__(self) -> tuple[type["InputError"], tuple[tuple[Fault, ...]]]:
        """From its faults, not from its text: so that it comes whole out of another process."""
        return type(self), (self.faults,)
