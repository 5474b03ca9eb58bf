"""How a part that is compared with a stack grows."""

from typing import Final

from msgspec import Struct

from wrung.metrology.conditions import Part
from wrung.metrology.expansion import coefficient_of_material, expansion_of_workpiece
from wrung.metrology.quantities import Quantity

UNNAMED_PART: Final = "part"


class PartExpansion(Struct, frozen=True, kw_only=True):
    """A part's coefficient of expansion, 1e-6/K, as ``base`` + ``value``.

    Attributes:
        name: the material, or ``"part"``.
        value: its coefficient, or what it is more than that of the material it follows.
        base: coefficient of the material that it follows, else 0.
        follows: the material of the blocks whose coefficient, and its error, it shares.
        temperature_difference: its temperature less the stack's, K.
    """

    name: str
    value: Quantity
    base: float = 0.0
    follows: str | None = None
    temperature_difference: Quantity

    @property
    def total(self) -> float:
        """Best estimate of the coefficient, 1e-6/K."""
        return self.base + self.value.estimate


def expansion_of_part(part: Part) -> PartExpansion:
    """How the part grows; its own coefficient goes before its material's.

    Raises:
        InputError: at ``/material``, the material is not known.
    """
    if part.expansion is not None or part.material is None:
        value = part.expansion or Quantity(estimate=0.0)
        return PartExpansion(
            name=part.material or UNNAMED_PART,
            value=value,
            temperature_difference=part.temperature_difference,
        )
    known = coefficient_of_material(part.material)
    # GUM H.1 takes the difference as the input: it is known better than either coefficient.
    if part.expansion_difference is not None:
        return PartExpansion(
            name=f"part less {known.of}",
            value=part.expansion_difference,
            base=known.value.estimate,
            follows=known.of,
            temperature_difference=part.temperature_difference,
        )
    value = expansion_of_workpiece(part.material)
    return PartExpansion(
        name=known.of, value=value, temperature_difference=part.temperature_difference
    )
