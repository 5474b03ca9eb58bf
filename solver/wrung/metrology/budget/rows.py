"""The table of a budget: one row an input, as GUM table H.1 and EA-4/02 print it."""

from typing import Final, Literal, TypeAlias

from msgspec import Struct

from wrung.metrology.quantities import Distribution, Quantity
from wrung.texts import Phrase

RowKind: TypeAlias = Literal[
    "certified_length",
    "length_within_limits",
    "drift",
    "variation_in_length",
    "wringing",
    "expansion",
    "temperature",
    "part_expansion",
    "part_temperature",
    "second_order",
    "extra",
]
"""What sort of input a row of the table is about."""

InputUnit: TypeAlias = Literal["nm", "K", "1e-6/K", "1e-6"]
"""Unit of an input; sensitivities are in nm for one of it."""

COMMON: Final[frozenset[RowKind]] = frozenset(
    {"expansion", "temperature", "part_expansion", "part_temperature", "second_order"}
)
"""Inputs that are one and the same for all blocks, so that their parts add with their signs."""

NM: Final = 100
"""Quanta of 0.01 nm in a nanometre."""


class Row(Struct, frozen=True, kw_only=True):
    """One input quantity and what it contributes.

    Attributes:
        kind: what sort of input it is.
        subject: the block, joint or material it is about; together with ``kind`` it names the row.
        said: the subject in words, where it is no name.
        unit: unit of the input.
        estimate: best estimate of the input.
        standard_uncertainty: of the input.
        limit: half-width that holds the input in the worst case.
        distribution: how the input is spread.
        degrees_of_freedom: of the standard uncertainty; infinite if it is taken as exact.
        sensitivity: how much the length changes with the input, nm per its unit.
        certificate: rows with the same certificate share its reference and are correlated.
    """

    kind: RowKind
    subject: str
    unit: InputUnit
    estimate: float
    standard_uncertainty: float
    limit: float
    distribution: Distribution
    degrees_of_freedom: float
    sensitivity: float
    certificate: str | None = None
    said: Phrase | None = None

    @property
    def contribution_nm(self) -> float:
        """Contribution to the standard uncertainty of the length, nm, with its sign."""
        return self.sensitivity * self.standard_uncertainty

    @property
    def limit_nm(self) -> float:
        """Contribution to the worst case, nm."""
        return abs(self.sensitivity) * self.limit


def row(  # noqa: PLR0913 - a row of a table has its columns
    kind: RowKind,
    subject: str,
    value: Quantity,
    *,
    unit: InputUnit = "nm",
    sensitivity: float = 1.0,
    certificate: str | None = None,
    said: Phrase | None = None,
) -> Row:
    """The row of a quantity."""
    return Row(
        kind=kind,
        subject=subject,
        unit=unit,
        estimate=value.estimate,
        standard_uncertainty=value.uncertainty,
        limit=value.limit,
        distribution=value.distribution,
        degrees_of_freedom=value.degrees_of_freedom,
        sensitivity=sensitivity,
        certificate=certificate,
        said=said,
    )


def product(
    subject: str,
    first: Quantity,
    second: Quantity,
    sensitivity: float,
    said: Phrase | None = None,
) -> Row:
    """The second-order row of two inputs whose product enters the length (GUM 5.1.2, note).

    Where the estimate of an input is 0, the first-order row of the other has no contribution, and
    this row is all there is. Its degrees of freedom are the fewer of both, to be on the safe side;
    the GUM gives no rule.

    Args:
        subject: names the two inputs.
        first: a coefficient of expansion, 1e-6/K.
        second: a temperature or a difference of temperatures, K.
        sensitivity: nm per 1e-6.
        said: the two inputs in words.
    """
    value = Quantity(
        estimate=0.0,
        uncertainty=first.uncertainty * second.uncertainty,
        limit=first.limit * second.limit,
        distribution="product",
        degrees_of_freedom=min(first.degrees_of_freedom, second.degrees_of_freedom),
    )
    return row("second_order", subject, value, unit="1e-6", sensitivity=sensitivity, said=said)
