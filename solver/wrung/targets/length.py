"""A plain length."""

from datetime import datetime

from msgspec import Struct

from wrung.targets.requirement import Requirement, Tolerance, WearBlocks


class LengthTarget(Struct, frozen=True, kw_only=True, tag="length", tag_field="kind"):
    """A stack of a wanted length; the members are those of `Requirement`."""

    ref: str
    length: int
    tolerance: Tolerance = Tolerance()
    max_blocks: int | None = None
    wear_blocks: WearBlocks = "none"
    needed_from: datetime | None = None
    needed_until: datetime | None = None

    def requirements(self) -> tuple[Requirement, ...]:
        """The one stack that this target needs."""
        return (
            Requirement(
                ref=self.ref,
                length=self.length,
                tolerance=self.tolerance,
                max_blocks=self.max_blocks,
                wear_blocks=self.wear_blocks,
                needed_from=self.needed_from,
                needed_until=self.needed_until,
            ),
        )
