"""What a stack is called: by its target and by the part that it plays in it."""

from msgspec import Struct


class StackName(Struct, frozen=True, kw_only=True):
    """Tells stacks apart. Two members, so that no ref of a user can be taken for a name of ours.

    Attributes:
        target: ref of the target, as it was given.
        role: the part that the stack plays in it, such as ``go``; None where the target has one
            stack and needs no word for it.
    """

    target: str
    role: str | None = None

    def __str__(self) -> str:
        """In words, for a sentence."""
        return self.target if self.role is None else f"{self.target} ({self.role})"


class Named(Struct, frozen=True, kw_only=True):
    """Something that belongs to one stack; the members are those of `StackName`."""

    target: str
    role: str | None = None

    @property
    def name(self) -> StackName:
        """Both together."""
        return StackName(target=self.target, role=self.role)
