"""From what a document states to certified blocks: all of them, or none."""

from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal
from math import ceil
from typing import Final, TypeVar, get_args

from wrung.blocks import Block, Role
from wrung.calibrations import Calibration
from wrung.errors import InputError
from wrung.grades import grade
from wrung.lengths import SMALL_UNIT, Unit, plain, um
from wrung.materials import material_fault
from wrung.metrology.block_remarks import certified_remarks
from wrung.metrology.certificates.fields import FieldReader
from wrung.metrology.certificates.limits import MOST_BLOCKS
from wrung.metrology.certificates.report import CertificateImport, Format, Remark, UnreadableError
from wrung.metrology.certificates.stated import COLUMNS, Stated
from wrung.metrology.student import expand
from wrung.names import or_nearest, repeats
from wrung.texts import word

T = TypeVar("T")

LARGEST_DEVIATION: Final = um("100")
"""No gauge block is this far off; a deviation beyond it is in another unit than it says."""


def assemble(  # noqa: PLR0913 - what there is to tell of a document
    document: Format,
    stated: Sequence[Stated],
    *,
    unit: Unit,
    marked: Unit | None = None,
    remarks: Sequence[Remark] = (),
    ignored: Sequence[Remark] = (),
    without_blocks: str = "states no gauge block.",
) -> CertificateImport:
    """Make blocks of what a document states.

    Args:
        document: its format.
        stated: its blocks.
        unit: unit of lengths of blocks that name none.
        marked: unit that all blocks are marked in, if it is not that of their lengths.
        remarks: what is to be passed on about the document.
        ignored: what is not used.
        without_blocks: what is said of a document that has no block.

    Raises:
        UnreadableError: there are too many blocks.
    """
    # First of all, so that a flood of rows costs neither time nor a remark each.
    if len(stated) > MOST_BLOCKS:
        raise UnreadableError(f"has more than {MOST_BLOCKS} blocks.")
    readings = [_read(each, unit, marked) for each in stated]
    refused = [remark for _, wrong in readings for remark in wrong]
    refused.extend(_repeated(stated))
    if not stated:
        refused.append(Remark(location="the document", text=without_blocks))
    # Each with where it stands, for what there is to say of it.
    read = [(s.location, block) for s, (block, _) in zip(stated, readings, strict=True) if block]
    blocks = tuple(block for _, block in read)
    return CertificateImport(
        format=document,
        # Half a certificate on the shelf would look like a whole one.
        blocks=() if refused else blocks,
        read=len(blocks),
        remarks=(*remarks, *_outside(read)),
        ignored=tuple(ignored),
        refused=tuple(refused),
    )


def unknown(where: str, name: str) -> Remark:
    """The remark on a column or member that is not used."""
    return Remark(location=where, text=f"is not known and was not read{or_nearest(name, COLUMNS)}.")


def _read(stated: Stated, default: Unit, marked: Unit | None) -> tuple[Block | None, list[Remark]]:
    """The block, or what is wrong with it."""
    fields = FieldReader(stated.location)
    unit = _unit(stated, default, fields)
    block = _block(stated, unit, marked or unit, fields)
    return None if fields.refused else block, fields.refused


def _unit(stated: Stated, default: Unit, fields: FieldReader) -> Unit:
    known: Unit | None = _among(stated.unit, get_args(Unit))
    if stated.unit is not None and known is None:
        fields.refuse("unit", f"{stated.unit[:40]!r} is neither mm nor in.")
    return known or default


def _among(text: str | None, choices: Iterable[T]) -> T | None:
    return next((each for each in choices if each == text), None)


def _block(stated: Stated, unit: Unit, marked: Unit, fields: FieldReader) -> Block:
    for member in ("id", "nominal", "deviation"):
        if getattr(stated, member) is None:
            fields.refuse(member, "is missing.")
    small = SMALL_UNIT[unit]
    nominal = fields.length("nominal", stated.nominal, unit)
    deviation = fields.length("deviation", stated.deviation, small, signed=True)
    uncertainty, calibration = _uncertainty(stated, unit, nominal or 0, fields)
    _check_figures(nominal, deviation, uncertainty, fields)
    _check_names(stated, marked, fields)
    return Block(
        # A block that lacks something is made all the same, for its further faults, then dropped.
        id=fields.name("id", stated.id) or "",
        nominal=nominal or 0,
        deviation=deviation,
        expanded_uncertainty=uncertainty,
        grade=stated.grade,
        material=stated.material,
        serial=fields.name("serial", stated.serial),
        set=fields.name("set", stated.set),
        role=_role(stated, fields),
        unit=marked,
        calibration=calibration,
    )


def _uncertainty(
    stated: Stated, unit: Unit, nominal: int, fields: FieldReader
) -> tuple[int | None, Calibration | None]:
    """The expanded uncertainty and the rest of the calibration.

    An expanded uncertainty whose factor is not stated is taken to have the factor 2, the smallest
    in use.
    """
    small = SMALL_UNIT[unit]
    expanded = _expanded(stated, unit, nominal, fields)
    standard = fields.bound("standard_uncertainty", stated.standard_uncertainty, small)
    factor = fields.number("coverage_factor", stated.coverage_factor, least=1.0, most=10.0)
    freedom = fields.number("degrees_of_freedom", stated.degrees_of_freedom, least=1.0)
    if expanded is None and standard is None:
        if stated.expanded_uncertainty is None and stated.standard_uncertainty is None:
            fields.refuse("expanded_uncertainty", "is missing, and so is a standard one.")
        return None, None
    if expanded is None:
        expanded, factor = expand(standard or 0, freedom)
    # Both are stated, so the factor is known even where it is not named.
    elif factor is None and standard:
        factor = expanded / standard
    return expanded, _calibration(stated, factor or 2.0, freedom, fields, unit)


def _expanded(stated: Stated, unit: Unit, nominal: int, fields: FieldReader) -> int | None:
    """The expanded uncertainty; as U = a + b L where it grows with the length."""
    name = "expanded_uncertainty_per_length"
    base = fields.bound("expanded_uncertainty", stated.expanded_uncertainty, SMALL_UNIT[unit])
    growth = fields.number(name, stated.expanded_uncertainty_per_length, most=1000.0)
    if growth is None:
        return base
    if stated.expanded_uncertainty is None:
        fields.refuse(name, "needs the expanded_uncertainty that it is added to.")
        return None
    # Up, since a figure for an error must not promise more than was worked out.
    share = Decimal(plain(stated.expanded_uncertainty_per_length or "0")) / 1_000_000
    return None if base is None else base + ceil(share * nominal)


def _calibration(
    stated: Stated, factor: float, freedom: float | None, fields: FieldReader, unit: Unit
) -> Calibration:
    calibrated = fields.day("calibrated_on", stated.calibrated_on)
    due = fields.day("due_on", stated.due_on)
    if calibrated is not None and due is not None and due < calibrated:
        fields.refuse("due_on", "lies before the day of calibration.")
    return Calibration(
        certificate=fields.name("certificate", stated.certificate),
        laboratory=fields.name("laboratory", stated.laboratory),
        calibrated_on=calibrated,
        due_on=due,
        coverage_factor=factor,
        degrees_of_freedom=freedom,
        variation=fields.bound("variation", stated.variation, SMALL_UNIT[unit]),
        expansion=fields.number("expansion", stated.expansion, least=-10.0, most=100.0),
        expansion_uncertainty=fields.number("expansion_uncertainty", stated.expansion_uncertainty),
    )


def _check_figures(
    nominal: int | None, deviation: int | None, uncertainty: int | None, fields: FieldReader
) -> None:
    if nominal == 0:
        fields.refuse("nominal", "must be greater than zero.")
    if deviation is not None and abs(deviation) > LARGEST_DEVIATION:
        fields.refuse("deviation", "is over 100 µm, which no gauge block has; look at the unit")
    if uncertainty == 0:
        fields.refuse("expanded_uncertainty", "is zero, which no calibration reaches.")
    if uncertainty is not None and uncertainty > LARGEST_DEVIATION:
        fields.refuse("expanded_uncertainty", "is over 100 µm; look at the unit")


def _check_names(stated: Stated, marked: Unit, fields: FieldReader) -> None:
    try:
        if stated.grade is not None:
            grade(stated.grade, marked)
    except InputError as error:
        fields.refuse("grade", f"{error.faults[0].detail}.")
    if (fault := material_fault(stated.material, "/material")) is not None:
        fields.refuse("material", f"{fault.detail}.")


def _role(stated: Stated, fields: FieldReader) -> Role:
    known: Role | None = _among(stated.role, get_args(Role))
    if stated.role is not None and known is None:
        fields.refuse("role", f"{stated.role[:40]!r} is neither gauge nor wear.")
    return known or "gauge"


def _outside(read: Iterable[tuple[str, Block]]) -> Iterator[Remark]:
    """Blocks that are outside the grade that the document states of them."""
    for location, block in read:
        for said in certified_remarks([block]):
            yield Remark(location=location, text=word(said, unit=block.unit))


def _repeated(stated: Iterable[Stated]) -> Iterator[Remark]:
    # A missing id is refused elsewhere and is no repetition.
    named = [(each.location, each.id) for each in stated if each.id is not None]
    for location, name in (named[k] for k in repeats(name for _, name in named)):
        yield Remark(location=f"{location}, id", text=f"{name[:40]!r} is used twice.")
