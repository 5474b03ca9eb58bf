"""Everything the library raises.

    WrungError
    ├── LengthError   a text that is no exact length
    └── InputError    one or more faults in what was asked for, each with a pointer

"Cannot be built" and "out of time" are outcomes of an answer, never exceptions.
"""

from collections.abc import Iterable, Iterator, Mapping

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

    @classmethod
    def at(cls, pointer: str, detail: str) -> "InputError":
        """That of a single fault."""
        return cls([Fault(pointer=pointer, detail=detail)])

    def all_at(self, pointer: str) -> "InputError":
        """The same, where all that is wrong comes from one member."""
        return type(self)(Fault(pointer=pointer, detail=each.detail) for each in self.faults)

    def under(self, pointer: str) -> Iterator[Fault]:
        """The faults, whose pointers are relative to that one."""
        return (Fault(pointer=pointer + f.pointer, detail=f.detail) for f in self.faults)

    def __reduce__(self) -> tuple[type["InputError"], tuple[tuple[Fault, ...]]]:
        """From its faults, not from its text: so that it comes whole out of another process."""
        return type(self), (self.faults,)


def require(*faults: Fault | None) -> None:
    """Refuse if there is any fault.

    Raises:
        InputError: with all of them.
    """
    # All at once, so that a caller need not mend and send a request fault by fault.
    found = [fault for fault in faults if fault is not None]
    if found:
        raise InputError(found)


def unless(holds: bool, member: str, detail: str) -> Fault | None:  # noqa: FBT001 - reads as prose
    """The fault of a member, unless something holds."""
    return None if holds else Fault(pointer=f"/{member}", detail=detail)


def positive(of: object, *members: str, at: str = "") -> Iterator[Fault | None]:
    """The fault of each of these members that is given and is not greater than zero.

    ``at`` is the pointer of what they are members of, without its first slash and with one behind.
    """
    for member in members:
        size = getattr(of, member)
        yield unless(size is None or size > 0, at + member, "must be greater than zero")


def not_negative(of: object, *members: str, at: str = "") -> Iterator[Fault | None]:
    """The fault of each of these members that is given and is less than zero, likewise."""
    for member in members:
        size = getattr(of, member)
        yield unless(size is None or size >= 0, at + member, "must not be negative")
