"""Estimates as they stand on the wire."""

from datetime import date
from typing import Annotated, Final, TypeAlias

from msgspec import UNSET, Meta, Struct, UnsetType

from wrung.lengths import SmallUnit, Unit
from wrung.measures import TemperatureUnit
from wrung.metrology.contact import MOST_RATIO
from wrung_service.api.texts import Day, DecimalText, Name, WaitedMs
from wrung_service.api.wire_lengths import Length, OptionalLength, SignedLength
from wrung_service.api.words import Said

_LANGUAGE = Meta(description="Language of the remarks: `en` or `de`.", examples=["de"])
_MOST_CALIBRATIONS: Final = 100
_MATERIAL = "See `GET /v1/materials`."
_Modulus: TypeAlias = (
    Annotated[
        float,
        Meta(ge=0.001, le=10_000, description="Young's modulus, GPa; before the material's."),
    ]
    | None
)
_PoissonsRatio: TypeAlias = (
    Annotated[
        float, Meta(ge=0, le=MOST_RATIO, description="Poisson's ratio; before the material's.")
    ]
    | None
)


class SoakingRequest(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A bar that is warmer or colder than the air of the room."""

    unit: Annotated[Unit, Meta(description="Unit of lengths.")]
    material: Annotated[Name, Meta(description=_MATERIAL, examples=["steel"])]
    width: Annotated[Length, Meta(description="Of its section.", examples=["9"])]
    height: Annotated[Length, Meta(description="Of its section.", examples=["35"])]
    length: (
        Annotated[OptionalLength, Meta(description="Of the bar; or state `mass_kg`.")] | UnsetType
    ) = UNSET
    mass_kg: (
        Annotated[
            float, Meta(ge=0.000001, le=100_000, description="In place of `length`: its mass, kg.")
        ]
        | None
    ) = None
    temperature_unit: Annotated[
        TemperatureUnit, Meta(description="`degC`: differences are in K; or `degF`.")
    ] = "degC"
    difference: Annotated[
        float,
        Meta(ge=0.000001, le=1000, description="How much warmer or colder than the air it is."),
    ]
    remaining: Annotated[
        float, Meta(ge=0.000001, le=1000, description="How much of that may be left.")
    ]
    language: Annotated[Name, _LANGUAGE] = "en"


class SoakingAnswer(Struct, frozen=True, kw_only=True):
    """How long it takes: an estimate, by lumped capacity."""

    minutes: Annotated[int, Meta(description="With 10 W/(m² K) through all its faces.")]
    least_minutes: Annotated[int, Meta(description="With 25 W/(m² K).")]
    most_minutes: Annotated[int, Meta(description="With 5 W/(m² K).")]
    time_constant_minutes: Annotated[
        float, Meta(description="After which 37 % of the difference is left, with 10 W/(m² K).")
    ]
    biot_number: Annotated[float, Meta(description="With 25 W/(m² K).")]
    uniform: Annotated[
        bool,
        Meta(description="Whether the Biot number is below 0.1, so that the formula holds."),
    ]
    mass_kg: Annotated[float, Meta(description="Mass of the bar, kg.")]
    remarks: Annotated[tuple[Said, ...], Meta(description="What to beware of.")]
    waited_ms: WaitedMs


class ContactRequest(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A ball that is pressed onto a plane, onto another ball, or into a hollow."""

    unit: Annotated[Unit, Meta(description="Unit of lengths.")]
    force_newtons: Annotated[
        float, Meta(ge=0.000001, le=100_000, description="Measuring force, N.", examples=[1.0])
    ]
    ball_diameter: Annotated[Length, Meta(description="Diameter of the ball.", examples=["6"])]
    ball_material: Annotated[Name, Meta(description=_MATERIAL, examples=["tungsten-carbide"])]
    other_material: Annotated[
        Name, Meta(description="Of what it touches, see `GET /v1/materials`.", examples=["steel"])
    ]
    other_diameter: (
        Annotated[
            OptionalLength,
            Meta(
                description="Diameter of the ball or hollow that it touches; a plane if left out."
            ),
        ]
        | UnsetType
    ) = UNSET
    other_hollow: Annotated[
        bool, Meta(description="Whether that is a hollow, such as a spherical seat.")
    ] = False
    ball_youngs_modulus: _Modulus = None
    ball_poissons_ratio: _PoissonsRatio = None
    other_youngs_modulus: _Modulus = None
    other_poissons_ratio: _PoissonsRatio = None
    language: Annotated[Name, _LANGUAGE] = "en"


class ContactAnswer(Struct, frozen=True, kw_only=True):
    """How far a ball is pressed in: an estimate, by Hertz."""

    small_unit: Annotated[SmallUnit, Meta(description="Unit of compression and radius.")]
    compression: Annotated[DecimalText, Meta(description="How much nearer both bodies come.")]
    compression_limits: Annotated[
        DecimalText, Meta(description="Half-width of what it is known to: moduli within 10 %.")
    ]
    contact_radius: Annotated[DecimalText, Meta(description="Of the circle on which they touch.")]
    largest_pressure_gpa: Annotated[float, Meta(description="In the middle of it, GPa.")]
    small_contact: Annotated[
        bool,
        Meta(description="Whether the circle is below a tenth of the ball, as the formula asks."),
    ]
    remarks: Annotated[tuple[Said, ...], Meta(description="What to beware of.")]
    waited_ms: WaitedMs


class CalibrationOfBlock(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What one certificate says of the block; figures in the small unit."""

    calibrated_on: Annotated[Day, Meta(description="Day of the calibration.")]
    deviation: Annotated[
        SignedLength, Meta(description="From nominal; null: this calibration does not count.")
    ]
    expanded_uncertainty: Annotated[Length, Meta(description="Of the deviation.")]
    coverage_factor: Annotated[float, Meta(ge=1, le=10, description="Of that uncertainty.")] = 2.0
    due_on: Annotated[Day, Meta(description="Last day of use that it states.")] | None = None


class DriftRequest(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A block and its calibrations."""

    unit: Annotated[Unit, Meta(description="Unit that it is marked in.")]
    nominal: Annotated[Length, Meta(description="Nominal length.", examples=["100"])]
    grade: (
        Annotated[Name, Meta(description="Its grade, for limits to keep; see `GET /v1/grades`.")]
        | None
    ) = None
    limit_deviation: (
        Annotated[
            OptionalLength, Meta(description="Before the grade: the deviation it has to keep.")
        ]
        | UnsetType
    ) = UNSET
    calibrations: Annotated[
        tuple[CalibrationOfBlock, ...],
        Meta(max_length=_MOST_CALIBRATIONS, description="In any order, on two days at least."),
    ]


class DriftAnswer(Struct, frozen=True, kw_only=True):
    """How the block changes, by a weighted straight line; figures in the small unit."""

    small_unit: Annotated[SmallUnit, Meta(description="Unit of deviations.")]
    calibrations: Annotated[int, Meta(description="How many were counted.")]
    first_calibrated_on: Annotated[date, Meta(description="Day of the first of them.")]
    last_calibrated_on: Annotated[date, Meta(description="Day of the last of them.")]
    change_a_year: Annotated[DecimalText, Meta(description="Of the length, in a year.")]
    expanded_uncertainty: Annotated[
        DecimalText, Meta(description="Of that change, with the coverage factor 2.")
    ]
    scatter: Annotated[
        float | None,
        Meta(
            description="Chi-squared over its degrees of freedom: about 1 where the deviations "
            "agree with their uncertainties. Null for two calibrations."
        ),
    ]
    told_from_none: Annotated[
        bool, Meta(description="Whether the change is larger than its uncertainty.")
    ]
    due_on: Annotated[
        date,
        Meta(
            description="Suggested last day of use: never later than the newest certificate "
            "states, or than the last interval once more where it states none."
        ),
    ]
    due_by_limits: Annotated[
        bool,
        Meta(description="Whether it is earlier because the block may be outside its limits then."),
    ]
    waited_ms: WaitedMs
