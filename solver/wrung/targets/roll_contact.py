"""How far a stack and the two rolls that it stands between are pressed into each other."""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import Annotated

from msgspec import Meta

from wrung.checked_types import CheckedStruct
from wrung.errors import Fault, InputError
from wrung.measures import Length, Measure, Ratio
from wrung.metrology.contact import Elasticity, LineContact, roll_contact
from wrung.targets.base import Name
from wrung.texts import Phrase, figure, phrase


class RollContact(CheckedStruct, frozen=True, kw_only=True):
    """The force that presses rolls against a stack, and what they are made of."""

    force_newtons: Annotated[Ratio, Meta(description="The force along the stack, N.")]
    contact_length: Annotated[
        Length,
        Meta(
            description="Length of the line on which a roll and the stack touch: the width or "
            "the breadth of the blocks, whichever lies along the roll."
        ),
    ]
    roll_material: Annotated[Name, Meta(description="What the rolls are made of.")] = "steel"
    stack_material: Annotated[
        Name, Meta(description="What the outer blocks of the stack are made of.")
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
        """What is wrong with it; ``at`` is its pointer without the slash."""
        try:
            self.with_roll(thinner_roll)
        except InputError as error:
            for fault in error.faults:
                member = fault.pointer.replace("/other_", "/stack_")
                yield Fault(pointer=f"/{at}{member}", detail=fault.detail)

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


def _stated(modulus: Decimal | None, ratio: Decimal | None) -> Elasticity:
    return Elasticity(
        youngs_modulus=None if modulus is None else float(modulus),
        poissons_ratio=None if ratio is None else float(ratio),
    )


def pressed_rolls(contact: RollContact | None, diameters: Sequence[int]) -> LineContact:
    """What a force takes off the distance of rolls, at all of their contacts; without one nothing.

    Moduli are off alike at each of them, so limits add as they are.
    """
    ends = [contact.with_roll(each) for each in diameters] if contact else []
    return LineContact(
        compression=sum(each.compression for each in ends),
        compression_limits=sum(each.compression_limits for each in ends),
    )


def contact_remarks(contact: RollContact | None, pressed: LineContact) -> Iterator[Phrase]:
    """What was done with the compression, or that it was left out."""
    if contact is None:
        yield phrase("contact.left_out")
        return
    yield phrase(
        "contact.allowed_for",
        figure("compression", pressed.compression, Measure.MARGIN),
        figure("limits", pressed.compression_limits, Measure.MARGIN),
    )
