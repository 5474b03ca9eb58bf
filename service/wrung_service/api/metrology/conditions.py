"""Where, when and how stacks are used, on the wire."""

from collections.abc import Callable
from typing import Annotated, Final, Literal, TypeAlias

from msgspec import UNSET, Meta, Struct, UnsetType
from msgspec.structs import replace

from wrung.errors import InputError
from wrung.lengths import QUANTA, SMALL_UNIT, Unit
from wrung.measures import TemperatureUnit, to_celsius, to_kelvin
from wrung.metrology import Conditions, Extra, Part, Quantity
from wrung.metrology.budget.rows import NM
from wrung.metrology.conditions import check
from wrung.metrology.quantities import arcsine, exactly, expanded, normal, rectangular, triangular
from wrung.metrology.student import TWO_SIGMA
from wrung_service.api.faults import Faults, Path, pointer
from wrung_service.api.metrology.calibration import read_day
from wrung_service.api.stacks.lengths import LengthReader
from wrung_service.api.texts import Day, Name
from wrung_service.api.wire_lengths import OPTIONAL, OptionalLength

Spread: TypeAlias = Literal["rectangular", "triangular", "arcsine", "normal"]

_MOST_EXTRAS: Final = 20

_BOUNDED = {"rectangular": rectangular, "triangular": triangular, "arcsine": arcsine}


class UncertainValue(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A value with its limits or its standard uncertainty, or with neither if it is exact."""

    # Wide enough for temperatures in °C or °F and for coefficients in 1e-6/K.
    value: Annotated[float, Meta(ge=-200, le=200, description="Best estimate.", examples=[20.5])]
    limits: (
        Annotated[
            float,
            Meta(
                ge=0,
                le=200,
                description="Half-width of the interval about it that holds the value; for a "
                "`normal` distribution its expanded uncertainty with k = 2.",
            ),
        ]
        | None
    ) = None
    standard_uncertainty: (
        Annotated[float, Meta(ge=0, le=200, description="Instead of `limits`.")] | None
    ) = None
    distribution: Annotated[
        Spread, Meta(description="Probability distribution of the value within `limits`.")
    ] = "rectangular"
    degrees_of_freedom: (
        Annotated[
            float,
            Meta(
                ge=1,
                le=1_000_000,
                description="Degrees of freedom of the uncertainty; infinitely many by default.",
            ),
        ]
        | None
    ) = None


class ComparedPart(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A part that is compared with the stack. The budget is then about the part's size at 20 °C."""

    material: (
        Annotated[Name, Meta(description="What it is made of, see `GET /v1/materials`.")] | None
    ) = None
    expansion: (
        Annotated[
            UncertainValue,
            Meta(description="Its coefficient of thermal expansion, 1e-6/K; before the table's."),
        ]
        | None
    ) = None
    expansion_difference: (
        Annotated[
            UncertainValue,
            Meta(
                description="For a part of the same material as the blocks of `material`: its "
                "coefficient less theirs, 1e-6/K."
            ),
        ]
        | None
    ) = None
    temperature_difference: (
        Annotated[
            UncertainValue,
            Meta(
                description="Its temperature less the stack's, in K or °F, see "
                "`temperature_unit`; 0 exactly if left out."
            ),
        ]
        | None
    ) = None


class FurtherContribution(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Something else that changes the length, such as a ball that is pressed in."""

    name: Annotated[Name, Meta(description="What it is; names its row of the budget.")]
    value: Annotated[
        UncertainValue, Meta(description="What it adds to the length, in the small unit.")
    ]


class UseConditions(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Where, when and how the stacks are used.

    What you leave out is assumed, and the budget's notes say so.

    `guide/metrology` has the model, and `guide/worked-budget` an example.
    """

    used_on: (
        Annotated[
            Day,
            Meta(
                description="Day of use. If left out, the last day on which a target is needed, or "
                "today if that is later."
            ),
        ]
        | None
    ) = None
    temperature: (
        Annotated[
            UncertainValue,
            Meta(description="Of the stack, see `temperature_unit`; 20 °C exactly if left out."),
        ]
        | None
    ) = None
    part: Annotated[ComparedPart, Meta(description="What is compared with it.")] | None = None
    joint_uncertainty: (
        Annotated[
            OptionalLength,
            Meta(
                description="Standard uncertainty of one wrung joint, in the small unit; by "
                "default a joint is anywhere within its allowance (rectangular)."
            ),
        ]
        | UnsetType
    ) = UNSET
    off_centre: Annotated[
        float,
        Meta(
            ge=0,
            le=1,
            description="How far from the centre of the faces the stack may be touched: 0 is "
            "the centre only, 1 anywhere up to the edge.",
        ),
    ] = 1.0
    correlation: Annotated[
        float,
        Meta(
            ge=0,
            le=1,
            description="Correlation between the lengths of one certificate: 1 if they share "
            "its reference, 0 if they are independent.",
        ),
    ] = 1.0
    coverage_probability: Annotated[
        float,
        Meta(
            ge=0.5,
            le=0.9999,
            description="Coverage probability of expanded uncertainties; 0.9545 gives k = 2.",
        ),
    ] = TWO_SIGMA
    extras: Annotated[
        tuple[FurtherContribution, ...],
        Meta(
            max_length=_MOST_EXTRAS,
            description="Further contributions to the length, in budgets and decisions; plans are "
            "not compared by what they add.",
        ),
    ] = ()


_AT: Path = ("conditions",)


def read_conditions(
    wire: UseConditions | None, unit: Unit, degrees: TemperatureUnit, faults: Faults
) -> Conditions:
    """The conditions of a request; what is wrong with them goes to ``faults``."""
    wire = wire or UseConditions()
    joint = LengthReader(faults).optional(
        wire.joint_uncertainty, SMALL_UNIT[unit], (*_AT, "joint_uncertainty"), OPTIONAL
    )
    conditions = Conditions(
        used_on=read_day(wire.used_on, (*_AT, "used_on"), faults),
        temperature=_value(_in_celsius(wire.temperature, degrees), (*_AT, "temperature"), faults),
        part=_part(wire.part, (*_AT, "part"), degrees, faults),
        wringing=None if joint is None else normal(0.0, joint),
        off_centre=wire.off_centre,
        correlation=wire.correlation,
        coverage_probability=wire.coverage_probability,
        extras=tuple(_extra(each, k, unit, faults) for k, each in enumerate(wire.extras)),
    )
    try:
        # Now, and not only with a budget: so it is told with everything else, before a search.
        check(conditions)
    except InputError as error:
        for fault in error.faults:
            faults.meaningless(pointer(_AT) + fault.pointer, fault.detail)
    return conditions


def _extra(wire: FurtherContribution, place: int, unit: Unit, faults: Faults) -> Extra:
    """What the library has in nm."""
    nanometres = QUANTA[SMALL_UNIT[unit]] / NM
    value = _each(wire.value, lambda figure: figure * nanometres)
    read = _value(value, (*_AT, "extras", place, "value"), faults)
    return Extra(name=wire.name, value=read or exactly(0.0))


def _each(wire: UncertainValue, change: Callable[[float], float]) -> UncertainValue:
    """A value and how sure it is, in another unit."""
    limits, standard = wire.limits, wire.standard_uncertainty
    return replace(
        wire,
        value=change(wire.value),
        limits=None if limits is None else change(limits),
        standard_uncertainty=None if standard is None else change(standard),
    )


def _in_celsius(wire: UncertainValue | None, degrees: TemperatureUnit) -> UncertainValue | None:
    if wire is None or degrees == "degC":
        return wire
    return replace(_in_kelvin(wire, degrees), value=to_celsius(wire.value, degrees))


def _in_kelvin(wire: UncertainValue, degrees: TemperatureUnit) -> UncertainValue:
    """A difference, and how sure it is, in K."""
    return _each(wire, lambda difference: to_kelvin(difference, degrees))


def _part(
    wire: ComparedPart | None, at: Path, degrees: TemperatureUnit, faults: Faults
) -> Part | None:
    if wire is None:
        return None
    warmer = wire.temperature_difference
    return Part(
        material=wire.material,
        expansion=_value(wire.expansion, (*at, "expansion"), faults),
        expansion_difference=_value(
            wire.expansion_difference, (*at, "expansion_difference"), faults
        ),
        temperature_difference=_value(
            None if warmer is None else _in_kelvin(warmer, degrees),
            (*at, "temperature_difference"),
            faults,
        )
        or exactly(0.0),
    )


def _value(wire: UncertainValue | None, at: Path, faults: Faults) -> Quantity | None:
    if wire is None:
        return None
    # JSON has no infinity.
    freedom = wire.degrees_of_freedom or float("inf")
    if wire.standard_uncertainty is not None:
        if wire.limits is not None:
            faults.meaningless(pointer((*at, "limits")), "contradicts standard_uncertainty")
        return normal(wire.value, wire.standard_uncertainty, freedom=freedom)
    if wire.limits is None:
        return exactly(wire.value)
    # No interval holds a normal value for sure, so it is taken as certificates state one.
    if wire.distribution == "normal":
        return expanded(wire.value, wire.limits, freedom=freedom)
    return _BOUNDED[wire.distribution](wire.value, wire.limits, freedom=freedom)
