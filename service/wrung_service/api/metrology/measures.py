"""What the errors of stacks are compared by, and what came of it, on the wire."""

from decimal import Decimal
from typing import Annotated, Final, Literal, TypeAlias

from msgspec import Meta, Struct

from wrung.answers import Compared, ErrorKind
from wrung.lengths import SMALL_UNIT, Unit, to_text
from wrung.metrology import ErrorMeasure
from wrung_service.api.texts import DecimalText

_STEPS_A_NM2: Final = 100
"""Variances are (0.1 nm)² in the library."""

FigureUnit: TypeAlias = Literal["um", "uin", "nm2", "uin2"]


_SQUARES: Final[dict[Unit, FigureUnit]] = {"mm": "nm2", "in": "uin2"}
_NM2_IN_A_UIN2: Final = Decimal("645.16")
_GRAIN_OF_UIN2: Final = Decimal("0.0001")


class WantedMeasure(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The errors that stacks are compared by, instead of the worst-case error.

    Only the comparison changes. Every stack still has its `worst_case_error`, and with `budget` its
    full expanded uncertainty.
    """

    kind: Annotated[
        ErrorKind,
        Meta(
            description="`worst_case`: all margins in the same direction. "
            "`expanded_uncertainty`: the variance of the stack, whose square root "
            "times the coverage factor is the expanded uncertainty; or, if not "
            "`corrected`, the mean square error, which is the variance plus the "
            "square of the known offset. The comparison takes certificates as "
            "independent and everything to be at 20 °C, whatever `conditions` say, "
            "because only then do the variances of blocks add up. It includes "
            "drift up to the day of use, and wringing."
        ),
    ] = "worst_case"
    corrected: Annotated[
        bool,
        Meta(
            description="Whether you allow for the known offset of a stack when you use it, so "
            "that neither its deviations nor its difference from the target count "
            "as errors."
        ),
    ] = False
    unequal_limits: Annotated[
        bool,
        Meta(
            description="For `worst_case`: whether unequal limits of older grades are used as "
            "they are. If false, the larger one counts in both directions, as in "
            "`worst_case_error`."
        ),
    ] = False


class ComparedErrors(Struct, frozen=True, kw_only=True):
    """The errors that plans were compared by, and what is proven about them."""

    kind: Annotated[ErrorKind, Meta(description="As asked for.")]
    corrected: Annotated[bool, Meta(description="As asked for.")]
    unequal_limits: Annotated[bool, Meta(description="As asked for.")]
    unit: Annotated[
        FigureUnit,
        Meta(
            description="Unit of the figures: the small unit; for variances and mean square errors "
            "nm² (`nm2`), or µin² (`uin2`) where lengths are in inches."
        ),
    ]
    largest: Annotated[DecimalText, Meta(description="Of any stack; 0 without stacks.")]
    total: Annotated[DecimalText, Meta(description="Over all stacks.")]
    largest_bound: Annotated[
        DecimalText | None,
        Meta(description="No plan that serves as many is better; null where nothing is known."),
    ]
    total_bound: Annotated[DecimalText | None, Meta(description="Likewise for the total.")]


def read_measure(wire: WantedMeasure | None) -> ErrorMeasure:
    """The measure of a request, before its conditions are known."""
    wire = wire or WantedMeasure()
    return ErrorMeasure(
        kind=wire.kind, corrected=wire.corrected, unequal_limits=wire.unequal_limits
    )


def write_compared(compared: Compared, unit: Unit) -> ComparedErrors:
    """What was compared, as it stands on the wire."""
    by_variance = compared.kind == "expanded_uncertainty"
    figure_unit: FigureUnit = _SQUARES[unit] if by_variance else SMALL_UNIT[unit]

    def text(figure: int) -> str:
        # A variance is no length, so `to_text` has no unit for it.
        if by_variance:
            return _square(figure, unit)
        return to_text(figure, SMALL_UNIT[unit])

    largest, total = compared.largest_bound, compared.total_bound
    return ComparedErrors(
        kind=compared.kind,
        corrected=compared.corrected,
        unequal_limits=compared.unequal_limits,
        unit=figure_unit,
        largest=text(compared.largest),
        total=text(compared.total),
        largest_bound=None if largest is None else text(largest),
        total_bound=None if total is None else text(total),
    )


def _square(figure: int, unit: Unit) -> str:
    """A variance; in µin² to four decimals, as it has no exact text there."""
    square = Decimal(figure) / _STEPS_A_NM2
    if unit == "mm":
        return f"{square:f}"
    inches = (square / _NM2_IN_A_UIN2).quantize(_GRAIN_OF_UIN2)
    return f"{inches:f}".rstrip("0").rstrip(".")
