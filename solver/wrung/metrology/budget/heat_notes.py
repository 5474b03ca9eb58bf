"""What the rows of temperature and expansion assume about materials."""

from collections.abc import Sequence

from msgspec import Struct

from wrung.blocks import Block
from wrung.materials import material
from wrung.metrology.conditions import Part
from wrung.metrology.expansion import coefficient_of
from wrung.metrology.parts import expansion_of_part


class HeatFacts(Struct, frozen=True, kw_only=True):
    """What is assumed of the materials of a stack and a part.

    Attributes:
        material_assumed: blocks whose material is not stated.
        of_table: materials of blocks whose coefficient is that of the table.
        limits_assumed: materials, or certificates, that state no limits of their coefficient.
        part_of_table: the part's material if its coefficient is that of the table, with the
            half-width of its interval, 1e-6/K.
        from_memory: materials whose figures were not compared with print.
    """

    material_assumed: tuple[str, ...]
    of_table: tuple[str, ...]
    limits_assumed: tuple[str, ...]
    part_of_table: tuple[tuple[str, float], ...]
    from_memory: tuple[str, ...]


def heat_facts(blocks: Sequence[Block], part: Part | None) -> HeatFacts:
    """What is assumed of these materials.

    Raises:
        InputError: at ``/material``, a material is not known.
    """
    found = [(block, coefficient_of(block)) for block in blocks]
    of_table = tuple(c.of for b, c in found if b.known_calibration.expansion is None)
    of_part = _of_table(part)
    names = dict.fromkeys((*of_table, *(name for name, _ in of_part)))
    return HeatFacts(
        material_assumed=tuple(b.id for b, c in found if c.material_assumed),
        of_table=of_table,
        limits_assumed=tuple(c.of for _, c in found if c.limits_assumed),
        part_of_table=of_part,
        from_memory=tuple(name for name in names if material(name).checked == "no"),
    )


def _of_table(part: Part | None) -> tuple[tuple[str, float], ...]:
    if part is None or part.material is None or part.expansion is not None:
        return ()
    # The difference is what the user states of it; the rest is the blocks' coefficient.
    if part.expansion_difference is not None:
        return ()
    return ((part.material, expansion_of_part(part).value.limit),)
