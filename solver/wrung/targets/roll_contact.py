"""How far rolls, and the stack or the measuring faces that touch them, are pressed together."""

from collections.abc import Iterator
from decimal import Decimal
from typing import Annotated, TypeAlias

from msgspec import Meta, Struct

from wrung.checked_types import CheckedStruct
from wrung.errors import Fault, InputError
from wrung.measures import Length, Margin, Measure, Ratio
from wrung.metrology.contact import Elasticity, LineContact, roll_contact
from wrung.targets.base import Name
from wrung.targets.contributions import of_limits
from wrung.texts import Phrase, figure, phrase


class RollContact(CheckedStruct, frozen=True, kw_only=True):
    """The force that presses rolls and a stack together, and what they are made of."""

    force_newtons: Annotated[
        Ratio, Meta(description="The force along the stack, or that of measuring over rolls, N.")
    ]
    contact_length: Annotated[
        Length,
        Meta(
            description="Length of the line on which a roll and the stack touch: the width or "
            "the breadth of the blocks, whichever lies along the roll; over rolls that of the "
            "measuring face."
        ),
    ]
    roll_material: Annotated[Name, Meta(description="What the rolls or pins are made of.")] = (
        "steel"
    )
    stack_material: Annotated[
        Name,
        Meta(
            description="What the outer blocks of the stack are made of; over rolls the measuring "
            "faces."
        ),
    ] = "steel"
    roll_youngs_modulus: Annotated[
        Ratio | None, Meta(description="Young's modulus of the rolls, GPa; before the material's.")
    ] = None
    roll_poissons_ratio: Annotated[
        Ratio | None, Meta(description="Poisson's ratio of the rolls, likewise.")
    ] = None
    stack_youngs_modulus: Annotated[
        Ratio | None,
        Meta(description="Young's modulus of the outer blocks, GPa; before the material's."),
    ] = None
    stack_poissons_ratio: Annotated[
        Ratio | None, Meta(description="Poisson's ratio of the outer blocks, likewise.")
    ] = None

    def faults(self, at: str, thinner_roll: int) -> Iterator[Fault]:
        """What is wrong with it; ``at`` is its pointer."""
        try:
            self.with_roll(thinner_roll)
        except InputError as error:
            for fault in error.faults:
                member = fault.pointer.replace("/other_", "/stack_")
                yield Fault(pointer=f"{at}{member}", detail=fault.detail)

    def with_roll(self, diameter: int) -> LineContact:
        """How far the stack and a roll are pressed into each other.

        Raises:
            InputError: as `wrung.metrology.contact.roll_contact`.
        """
        return roll_contact(
            float(self.force_newtons),
            roll_diameter=diameter,
            contact_length=self.contact_length,
            roll_material=self.roll_material,
            other_material=self.stack_material,
            roll_elasticity=_stated(self.roll_youngs_modulus, self.roll_poissons_ratio),
            other_elasticity=_stated(self.stack_youngs_modulus, self.stack_poissons_ratio),
        )


Pressing: TypeAlias = Annotated[
    RollContact | None,
    Meta(
        description="The force that presses the rolls or pins against the stack, or against the "
        "faces of what compares with it. What it takes off is then allowed for in the stack; "
        "without it that is left out."
    ),
]
Compression: TypeAlias = Annotated[
    Margin | None,
    Meta(
        description="How far the force presses rolls and stack, or measuring faces, into each "
        "other, all contacts together; the stack allows for it. Null without a force."
    ),
]
CompressionLimits: TypeAlias = Annotated[
    Margin | None, Meta(description="Half-width of the limits that it is known to.")
]


def _stated(modulus: Decimal | None, ratio: Decimal | None) -> Elasticity:
    return Elasticity(
        youngs_modulus=None if modulus is None else float(modulus),
        poissons_ratio=None if ratio is None else float(ratio),
    )


class PressedRolls(Struct, frozen=True, kw_only=True):
    """The rolls of a target where stack, or measuring faces, touch them.

    Attributes:
        contact: the force, if one is stated.
        diameters: of the roll at each contact, quanta.
        faces: whether what touches them are the faces of what compares with the stack: then these
            come nearer over the rolls by the force, and the stack is shorter by as much. A stack
            between the rolls is longer.
    """

    contact: RollContact | None
    diameters: tuple[int, ...]
    faces: bool = False

    @property
    def compression(self) -> int | None:
        """What the force takes off at all contacts, quanta; None without one."""
        return None if self.contact is None else sum(each.compression for each in self._ends())

    @property
    def compression_limits(self) -> int | None:
        """Half-width of what that is known to, quanta, likewise."""
        if self.contact is None:
            return None
        # Moduli are off alike at each of them, so limits add as they are.
        return sum(each.compression_limits for each in self._ends())

    @property
    def longer(self) -> int:
        """What the stack is longer by than by geometry alone, quanta."""
        compression = self.compression or 0
        return -compression if self.faces else compression

    def faults(self) -> Iterator[Fault]:
        """What is wrong with the force; a roll that is none is at fault itself."""
        thinnest = min(self.diameters)
        if self.contact is not None and thinnest > 0:
            yield from self.contact.faults("/contact", thinnest)

    def remarks(self) -> Iterator[Phrase]:
        """What was done with the compression, or that it was left out."""
        compression, limits = self.compression, self.compression_limits
        if compression is None or limits is None:
            yield phrase("contact.left_out")
            return
        yield phrase(
            "contact.shorter" if self.faces else "contact.longer",
            figure("compression", compression, Measure.MARGIN),
            figure("limits", limits, Measure.MARGIN),
        )

    def standard_uncertainty(self) -> Decimal | None:
        """Of what the force does to the stack, quanta; None without one."""
        limits = self.compression_limits
        return None if limits is None else of_limits(Decimal(limits))

    def _ends(self) -> Iterator[LineContact]:
        if self.contact is not None:
            yield from map(self.contact.with_roll, self.diameters)
