"""Part tolerances that stacks must be good enough for, and what comes of it, on the wire."""

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Annotated

from msgspec import Meta, Struct

from wrung.lengths import Unit, to_text
from wrung.metrology import Decision, ErrorMeasure, Purpose, RequiredRatio, Zone
from wrung.metrology.decisions import Guard, Verdict
from wrung.metrology.uncertainty_ratio import shown
from wrung.names import or_nearest
from wrung.stack_names import StackName
from wrung_service.api.faults import Faults, Path, pointer
from wrung_service.api.stacks.lengths import LengthReader
from wrung_service.api.texts import DecimalText, Name
from wrung_service.api.wire_lengths import Length
from wrung_service.api.words import Words


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
            "they are well known, by Student's t more where not (ISO 14253-1)."
        ),
    ] = "expanded_uncertainty"
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


class AcceptedSizes(Struct, frozen=True, kw_only=True):
    """Sizes that are certainly within the limits."""

    lower: Annotated[DecimalText, Meta(description="Smallest of them.")]
    upper: Annotated[DecimalText, Meta(description="Largest of them.")]


class StackDecision(Struct, frozen=True, kw_only=True):
    """Whether a stack is good enough for a part's tolerance.

    Only the stack is judged. The instrument that compares it with the part has its own uncertainty.
    """

    uncertainty: Annotated[
        DecimalText,
        Meta(description="The uncertainty of the stack that the decision uses, small unit."),
    ]
    test_uncertainty_ratio: Annotated[
        DecimalText | None,
        Meta(
            description="Test uncertainty ratio (TUR): width of the tolerance over twice that, "
            "rounded down; null if there is no uncertainty."
        ),
    ]
    verdict: Annotated[Verdict, Meta(description="Which rule of thumb it meets.")]
    ratio_met: Annotated[bool, Meta(description="Whether it meets the ratio required, or 4.")]
    guard_band: Annotated[
        DecimalText, Meta(description="Distance kept from each limit, small unit.")
    ]
    acceptance_zone: Annotated[
        AcceptedSizes | None,
        Meta(description="Sizes that may be accepted; null if the guard bands leave none."),
    ]
    reject_below: Annotated[
        DecimalText, Meta(description="Smaller sizes are certainly outside the limits.")
    ]
    reject_above: Annotated[
        DecimalText, Meta(description="Larger sizes are certainly outside the limits.")
    ]
    warning: Annotated[
        str | None, Meta(description="A warning, as a sentence; null if there is none.")
    ]


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
    return Purpose(
        limits=Zone(lower=lower, upper=upper),
        corrected=wire.corrected,
        guard=wire.guard,
        # A fraction, so that comparing with it is exact.
        required_ratio=None if wire.required_ratio is None else Fraction(wire.required_ratio),
    )


def write_decision(decision: Decision, words: Words) -> StackDecision:
    """The decision as it stands on the wire."""
    unit, small, ratio = words.unit, words.small, decision.test_uncertainty_ratio
    return StackDecision(
        uncertainty=to_text(decision.uncertainty, small),
        test_uncertainty_ratio=None if ratio is None else f"{shown(ratio):f}",
        verdict=decision.verdict,
        ratio_met=decision.ratio_met,
        guard_band=to_text(decision.guard_band, small),
        acceptance_zone=_accepted(decision.acceptance_zone, unit),
        reject_below=to_text(decision.reject_below, unit),
        reject_above=to_text(decision.reject_above, unit),
        warning=words.say(decision.warning) if decision.warning else None,
    )


def _accepted(zone: Zone | None, unit: Unit) -> AcceptedSizes | None:
    if zone is None:
        return None
    return AcceptedSizes(lower=to_text(zone.lower, unit), upper=to_text(zone.upper, unit))
