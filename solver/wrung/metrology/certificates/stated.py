"""What a document states of one block, as text, whatever the document's format."""

from msgspec import Struct


class Stated(Struct, frozen=True, kw_only=True):
    """One block of a document; None for what it does not state.

    Attributes:
        location: place in the document, for remarks.
        unit: unit of the lengths, ``"mm"`` or ``"in"``; small lengths are in its small unit.
        deviation: of the length at the centre from nominal, small unit.
        expanded_uncertainty: small unit, with ``coverage_factor``.
        expanded_uncertainty_per_length: what it grows by with the nominal length, 1e-6 of that, as
            in U = a + b L with ``expanded_uncertainty`` as a.
        standard_uncertainty: small unit, instead of the expanded one.
        variation: variation in length, small unit.
        expansion: coefficient of thermal expansion, 1e-6/K.
        expansion_uncertainty: its standard uncertainty, 1e-6/K.

    The others are those of `wrung.Block` and `wrung.Calibration`; dates are ``2026-03-31``.
    """

    location: str
    id: str | None = None
    nominal: str | None = None
    unit: str | None = None
    deviation: str | None = None
    expanded_uncertainty: str | None = None
    expanded_uncertainty_per_length: str | None = None
    coverage_factor: str | None = None
    standard_uncertainty: str | None = None
    degrees_of_freedom: str | None = None
    variation: str | None = None
    expansion: str | None = None
    expansion_uncertainty: str | None = None
    serial: str | None = None
    grade: str | None = None
    material: str | None = None
    set: str | None = None
    role: str | None = None
    certificate: str | None = None
    laboratory: str | None = None
    calibrated_on: str | None = None
    due_on: str | None = None


COLUMNS = tuple(name for name in Stated.__struct_fields__ if name != "location")
"""The members, which are also the columns of the CSV form and the members of the JSON form."""

FIGURES = (
    "nominal",
    "deviation",
    "expanded_uncertainty",
    "expanded_uncertainty_per_length",
    "coverage_factor",
    "standard_uncertainty",
    "degrees_of_freedom",
    "variation",
    "expansion",
    "expansion_uncertainty",
)
"""Those that are decimal numbers."""
