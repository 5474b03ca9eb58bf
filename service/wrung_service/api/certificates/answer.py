"""A certificate as it was read, on the wire."""

from collections.abc import Iterable
from datetime import date
from typing import Annotated

from msgspec import Meta, Struct

from wrung.blocks import Block, Role
from wrung.calibrations import Calibration
from wrung.lengths import SMALL_UNIT, SmallUnit, Unit, to_text
from wrung.metrology import CertificateImport, Remark
from wrung.metrology.certificates import Format
from wrung_service.api.german import in_language
from wrung_service.api.metrology.figures import rounded
from wrung_service.api.texts import DecimalText, WaitedMs


class CertifiedCalibration(Struct, frozen=True, kw_only=True):
    """The calibration of a block; null for what the certificate does not state."""

    certificate: Annotated[str | None, Meta(description="Number of the certificate.")]
    laboratory: Annotated[str | None, Meta(description="Who calibrated.")]
    calibrated_on: Annotated[date | None, Meta(description="Day of the calibration.")]
    due_on: Annotated[date | None, Meta(description="Last day of use before the next one.")]
    coverage_factor: Annotated[
        float, Meta(description="Of the expanded uncertainty; 2 if not stated.")
    ]
    degrees_of_freedom: Annotated[float | None, Meta(description="Null means infinitely many.")]
    variation: Annotated[DecimalText | None, Meta(description="Variation in length, small unit.")]
    expansion: Annotated[float | None, Meta(description="Coefficient of expansion, 1e-6/K.")]
    expansion_uncertainty: Annotated[
        float | None, Meta(description="Its standard uncertainty, 1e-6/K.")
    ]


class CertifiedBlock(Struct, frozen=True, kw_only=True):
    """A certified block, in the form in which `POST /v1/stacks` takes blocks."""

    id: Annotated[str, Meta(description="The block's id.")]
    nominal: Annotated[DecimalText, Meta(description="Nominal length, in the block's unit.")]
    unit: Annotated[Unit, Meta(description="Unit it is marked in.")]
    deviation: Annotated[DecimalText, Meta(description="From nominal, in its small unit.")]
    expanded_uncertainty: Annotated[
        DecimalText, Meta(description="Expanded uncertainty of the deviation, in its small unit.")
    ]
    grade: Annotated[str | None, Meta(description="Its grade.")]
    material: Annotated[str | None, Meta(description="Its material.")]
    serial: Annotated[str | None, Meta(description="Its serial number.")]
    set: Annotated[str | None, Meta(description="The set it belongs to.")]
    role: Annotated[Role, Meta(description="Gauge block or wear block.")]
    calibration: Annotated[
        CertifiedCalibration, Meta(description="When and how it was calibrated.")
    ]


class ImportRemark(Struct, frozen=True, kw_only=True):
    """Something about the document."""

    location: Annotated[str, Meta(description="The place in the document.")]
    text: Annotated[
        str, Meta(description="The remark, in the language that `Accept-Language` prefers.")
    ]


class ImportedCertificate(Struct, frozen=True, kw_only=True):
    """What was read from a certificate. Nothing is stored."""

    format: Annotated[Format, Meta(description="What the document was read as.")]
    blocks: Annotated[tuple[CertifiedBlock, ...], Meta(description="Every block it states.")]
    remarks: Annotated[tuple[ImportRemark, ...], Meta(description="Remarks on the document.")]
    ignored: Annotated[
        tuple[ImportRemark, ...], Meta(description="What else it contains; nothing of it is used.")
    ]
    waited_ms: WaitedMs


def write_import(
    found: CertificateImport, *, language: str = "en", waited_ms: float = 0.0
) -> ImportedCertificate:
    """The import as it stands on the wire."""
    return ImportedCertificate(
        format=found.format,
        blocks=tuple(_block(block) for block in found.blocks),
        remarks=write_remarks(found.remarks, language),
        ignored=write_remarks(found.ignored, language),
        waited_ms=round(waited_ms, 1),
    )


def write_remarks(remarks: Iterable[Remark], language: str) -> tuple[ImportRemark, ...]:
    """Remarks as they stand on the wire."""
    return tuple(
        ImportRemark(
            location=in_language(remark.location, language),
            text=in_language(remark.text, language),
        )
        for remark in remarks
    )


def _block(block: Block) -> CertifiedBlock:
    small = SMALL_UNIT[block.unit]
    return CertifiedBlock(
        id=block.id,
        nominal=to_text(block.nominal, block.unit),
        unit=block.unit,
        deviation=to_text(block.deviation or 0, small),
        expanded_uncertainty=to_text(block.expanded_uncertainty or 0, small),
        grade=block.grade,
        material=block.material,
        serial=block.serial,
        set=block.set,
        role=block.role,
        calibration=write_calibration(block.calibration or Calibration(), small),
    )


def write_calibration(calibration: Calibration, small: SmallUnit) -> CertifiedCalibration:
    """A calibration as it stands on the wire, of a block with that small unit."""
    variation, freedom = calibration.variation, calibration.degrees_of_freedom
    return CertifiedCalibration(
        certificate=calibration.certificate,
        laboratory=calibration.laboratory,
        calibrated_on=calibration.calibrated_on,
        due_on=calibration.due_on,
        coverage_factor=rounded(calibration.coverage_factor),
        degrees_of_freedom=freedom,
        variation=None if variation is None else to_text(variation, small),
        expansion=calibration.expansion,
        expansion_uncertainty=calibration.expansion_uncertainty,
    )
