"""Part tolerances that stacks must be good enough for, on the wire."""

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Annotated

from msgspec import UNSET, Meta, Struct, UnsetType

from wrung.lengths import SMALL_UNIT, Unit
from wrung.metrology import ErrorMeasure, Purpose, RequiredRatio, Zone
from wrung.metrology.purpose import MOST_MULTIPLE, Guard
from wrung.names import or_nearest
from wrung.stack_names import StackName
from wrung_service.api.faults import Faults, Path, pointer
from wrung_service.api.stacks.lengths import LengthReader
from wrung_service.api.texts import Name
from wrung_service.api.wire_lengths import OPTIONAL, Length, OptionalLength


class PartLimits(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A part's limits of size, and how good a stack must be to check them."""

    lower: Annotated[Length, Meta(description="Smallest allowed size.", examples=["0.3501"])]
    upper: Annotated[Length, Meta(description="Largest allowed size.", examples=["0.3511"])]
    corrected: Annotated[
        bool, Meta(description="Whether the stack's known offset is allowed for in use.")
    ] = False
    guard: Annotated[
        Guard,
        Meta(
            description="Width of the guard bands: `expanded_uncertainty` all of it, "
            "`one_sided_95` as many standard uncertainties as leave 5 % on one side, 1.65 where "
            "they are well known, by Student's t more where not (ISO 14253-1); `none` is simple "
            "acceptance; `multiple` takes `guard_multiple`; `false_accept_2` as much as keeps the "
            "share of parts that are accepted although outside to 2 % (ANSI/NCSL Z540.3)."
        ),
    ] = "expanded_uncertainty"
    guard_multiple: (
        Annotated[
            float,
            Meta(
                ge=-MOST_MULTIPLE,
                le=MOST_MULTIPLE,
                description="For the guard `multiple`: the guard band over the expanded "
                "uncertainty. Below 0, sizes beyond the limits are accepted, too.",
            ),
        ]
        | None
    ) = None
    in_tolerance_share: (
        Annotated[
            float,
            Meta(
                ge=0.01,
                le=0.999999,
                description="Share of the parts that are within the limits before they are "
                "measured. Their sizes are taken to be normal about the middle of the limits. If "
                "left out, overall risks are the largest for any share.",
            ),
        ]
        | None
    ) = None
    comparison_uncertainty: (
        Annotated[
            OptionalLength,
            Meta(
                description="Expanded uncertainty (k = 2) of comparing the part with the stack, "
                "small unit: indicator, plate, form. Added to that of the stack by squares; a "
                "ratio that is enforced in planning does without it."
            ),
        ]
        | UnsetType
    ) = UNSET
    measured: (
        Annotated[
            OptionalLength,
            Meta(
                description="A size measured with the stack, to be decided on. With `corrected`, "
                "the stack's known offset must be allowed for in it.",
                examples=["0.3505"],
            ),
        ]
        | UnsetType
    ) = UNSET
    required_ratio: (
        Annotated[
            float,
            Meta(
                ge=0.1,
                le=1000,
                description="Smallest test uncertainty ratio (tolerance over twice the expanded "
                "uncertainty of the stack) that is good enough; 4 if left out.",
            ),
        ]
        | None
    ) = None


class PartTolerance(PartLimits, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Limits of size of a part that one stack serves to measure."""

    target: Annotated[Name, Meta(description="The `ref` of the stack's target.")]
    role: (
        Annotated[
            Name,
            Meta(description="Which of its stacks, such as `go`, where the target has several."),
        ]
        | None
    ) = None
    enforce_required_ratio: Annotated[
        bool,
        Meta(
            description="If true, stacks that miss `required_ratio` are not planned; if false, "
            "the ratio is only reported. The ratio is then taken with the error "
            "that plans are compared by: the worst-case error or that of "
            "`error_measure`, with the coverage factor of the block that has the "
            "fewest degrees of freedom. `decision` uses the budget, which includes "
            "more, above all temperature and common references. Needs "
            "`required_ratio`, and `corrected` as in `error_measure`. The blocks "
            "that a `shortage` would add then have a `max_error`."
        ),
    ] = False


def read_tolerances(
    wire: Sequence[PartTolerance], names: Sequence[StackName], unit: Unit, faults: Faults
) -> dict[StackName, Purpose]:
    """What the stacks are for, by their names; what is wrong with it goes to ``faults``."""
    purposes: dict[StackName, Purpose] = {}
    for index, each in enumerate(wire):
        at: Path = ("part_tolerances", index)
        name = named_by(each)
        if name not in names:
            _note_unknown(each, names, at, faults)
        elif name in purposes:
            faults.meaningless(pointer((*at, "target")), "the stack has a tolerance already")
        # Even if its target is wrong: `read_ratios` looks for each of them.
        purposes[name] = read_limits(each, unit, at, faults)
    return purposes


def named_by(wire: PartTolerance) -> StackName:
    """The stack that a tolerance is about."""
    return StackName(target=wire.target, role=wire.role)


def _note_unknown(
    wire: PartTolerance, names: Sequence[StackName], at: Path, faults: Faults
) -> None:
    roles = [name.role for name in names if name.target == wire.target]
    if not roles:
        known = list(dict.fromkeys(name.target for name in names))
        detail = f"no target is called {wire.target!r}{or_nearest(wire.target, known)}"
        faults.meaningless(pointer((*at, "target")), detail)
    elif roles == [None]:
        faults.meaningless(pointer((*at, "role")), "the target has one stack, without a role")
    else:
        listed = ", ".join(role for role in roles if role)
        faults.meaningless(pointer((*at, "role")), f"must name a stack of the target: {listed}")


def read_ratios(
    wire: Sequence[PartTolerance],
    purposes: Mapping[StackName, Purpose],
    measure: ErrorMeasure,
    faults: Faults,
) -> tuple[RequiredRatio, ...]:
    """The ratios to plan with, if nothing is wrong; what is wrong goes to ``faults``."""
    ratios: list[RequiredRatio] = []
    for index, each in enumerate(wire):
        if not each.enforce_required_ratio:
            continue
        at: Path = ("part_tolerances", index)
        name = named_by(each)
        purpose = purposes[name]
        if each.corrected != measure.corrected:
            faults.meaningless(pointer((*at, "corrected")), "differs from that of error_measure")
        if purpose.required_ratio is None:
            faults.meaningless(pointer((*at, "enforce_required_ratio")), "needs a required_ratio")
            continue
        width = purpose.limits.upper - purpose.limits.lower
        ratios.append(
            RequiredRatio(
                target=name.target, role=name.role, width=width, ratio=purpose.required_ratio
            )
        )
    return () if faults.found else tuple(ratios)


def read_limits(wire: PartLimits, unit: Unit, at: Path, faults: Faults) -> Purpose:
    """What a stack is for; what is wrong with it goes to ``faults``."""
    reader = LengthReader(faults)
    before = len(faults.found)
    lower = reader.required(wire.lower, unit, (*at, "lower"))
    upper = reader.required(wire.upper, unit, (*at, "upper"))
    # Where one was refused, a placeholder would be compared.
    if lower >= upper and len(faults.found) == before:
        faults.meaningless(pointer((*at, "upper")), "must be greater than lower")
    at_multiple = pointer((*at, "guard_multiple"))
    if wire.guard == "multiple" and wire.guard_multiple is None:
        faults.meaningless(at_multiple, "is needed by the guard `multiple`")
    if wire.guard != "multiple" and wire.guard_multiple is not None:
        faults.meaningless(at_multiple, "needs the guard `multiple`")
    return Purpose(
        limits=Zone(lower=lower, upper=upper),
        corrected=wire.corrected,
        guard=wire.guard,
        guard_multiple=wire.guard_multiple,
        in_tolerance=wire.in_tolerance_share,
        measured=reader.optional(wire.measured, unit, (*at, "measured"), OPTIONAL),
        comparison_uncertainty=reader.optional(
            wire.comparison_uncertainty,
            SMALL_UNIT[unit],
            (*at, "comparison_uncertainty"),
            OPTIONAL,
        )
        or 0,
        # A fraction, so that comparing with it is exact.
        required_ratio=None if wire.required_ratio is None else Fraction(wire.required_ratio),
    )
