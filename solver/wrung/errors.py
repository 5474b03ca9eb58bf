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


def unless(
    holds: bool,  # noqa: FBT001 - reads as prose
    member: str,
    detail: str,
    at: str = "",
) -> Fault | None:
    """The fault of a member, unless something holds; ``at`` is the pointer of what has it."""
    return None if holds else Fault(pointer=f"{at}/{member}", detail=detail)


def positive(of: object, *members: str, at: str = "") -> list[Fault]:
    """The fault of each member that is given and not greater than zero; ``at`` as in `unless`."""
    return not_positive({f"{at}/{member}": getattr(of, member) for member in members})


def not_negative(of: object, *members: str, at: str = "") -> Iterator[Fault]:
    """The fault of each member that is given and less than zero; ``at`` as in `unless`."""
    for member in members:
        size = getattr(of, member)
        if size is not None and size < 0:
            yield Fault(pointer=f"{at}/{member}", detail="must not be negative")


def either(of: object, member: str, other: str) -> Fault | None:
    """The fault of a member, unless just one of it and the other is given."""
    given = [each for each in (member, other) if getattr(of, each) is not None]
    return unless(len(given) == 1, member, f"give either this or {other}")


def greater(of: object, member: str, than: str) -> Fault | None:
    """The fault of a member that is not greater than another one; either may be left out."""
    larger, smaller = getattr(of, member), getattr(of, than)
    fits = larger is None or smaller is None or larger > smaller
    return unless(fits, member, f"must be greater than {than}")
