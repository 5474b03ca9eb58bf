"""Two stacks for two limits of size: GO and NOT GO, or the two ends of a step's tolerance."""

from collections.abc import Sequence
from typing import Annotated, ClassVar, Final, Literal, TypeAlias

from msgspec import Meta
from msgspec.structs import replace

from wrung.answers import Stack
from wrung.errors import not_negative, positive, require, unless
from wrung.measures import Length, Margin
from wrung.targets.base import StackTarget
from wrung.targets.built import built
from wrung.targets.gauge_zones import Allowances, GaugePlace, GaugeZone, gauge_at, has_room
from wrung.targets.limit_results import (
    GaugeRole,
    LimitGauge,
    LimitsOfSize,
    limit_gauge,
    limits_remarks,
    stacks_of,
)
from wrung.targets.requirement import Requirement
from wrung.targets.tolerance_ratios import judged, shown_ratio
from wrung.texts import Phrase

Feature: TypeAlias = Literal["internal", "external", "step"]

_ROLES: Final[dict[Feature, tuple[GaugeRole, GaugeRole]]] = {
    # Roles of the lower and the upper limit. GO is the limit with the most material left.
    "internal": ("go", "not_go"),
    "external": ("not_go", "go"),
    "step": ("lower", "upper"),
}
_NO_GAUGE: Final = "a step is checked by the stacks themselves, not by gauges"


class LimitPairTarget(StackTarget, frozen=True, kw_only=True):
    """A target of one or two limits; a kind says what they are."""

    cautions: ClassVar[tuple[str, ...]] = ("caution.spindle", "caution.gently", "caution.burr")

    rounded_to: Annotated[
        Length | None,
        Meta(
            description="Stacks are rounded to this step, into the tolerance, for limits that "
            "blocks cannot make exactly, such as 0.0001 in for an ISO 286 class. "
            "Exact by default."
        ),
    ] = None
    guard_band: Annotated[
        Margin | None,
        Meta(
            description="How far both stacks are moved inside their limits, such as by the "
            "expanded uncertainty, so that no part outside its limits passes. 0 by default."
        ),
    ] = None
    guard_by_uncertainty: Annotated[
        bool,
        Meta(
            description="Whether the guard band is found by searching: at least `guard_band`, and "
            "at least the expanded uncertainty that each of the stacks found turns out to have, "
            "offset included. It searches again, four times at most, until that holds. Needs "
            "`rounded_to`."
        ),
    ] = False
    wear_allowance: Annotated[
        Margin | None,
        Meta(
            description="How far further inside its limit the GO gauge is made, to be worn off. "
            "Where `gauge_zone` is `centred`, up to the middle of its zone."
        ),
    ] = None
    gauge_tolerance: Annotated[
        Margin | None,
        Meta(
            description="Width of the tolerance zone that a gauge is made to. The stacks are then "
            "for the middle of the zones of the two gauges."
        ),
    ] = None
    gauge_zone: Annotated[
        GaugeZone,
        Meta(
            description="`inside`: zones of gauges lie wholly inside the limits of the part. "
            "`centred`: that of NOT GO lies half on each side of its limit, and that of GO half on "
            "each side of the wear allowance, z."
        ),
    ] = "inside"

    def limits_of_size(self) -> tuple[int | None, int | None]:
        """Lower and upper limit, quanta; None for a limit that is not checked."""
        raise NotImplementedError

    def measured_feature(self) -> Feature:
        """What has the size."""
        raise NotImplementedError

    def requirements(self) -> tuple[Requirement, ...]:
        """``go`` and ``not_go``; of a step ``lower`` and ``upper``."""
        places = self._places()
        self._require_room([place for _, place in places])
        return tuple(self.stack(place.wanted_length, role=role) for role, place in places)

    def gauges(self, stacks: Sequence[Stack]) -> tuple[LimitGauge, ...]:
        """The limits with their stacks as far as they were built."""
        return tuple(
            limit_gauge(role, place, built(stacks, self.name_of(role)), self.rounded_to)
            for role, place in self._places()
        )

    def found(self, stacks: Sequence[Stack]) -> tuple[LimitsOfSize, tuple[Phrase, ...]]:
        """The limits with what was built for them, and what to say of that."""
        lower, upper = self.limits_of_size()
        tolerance = None if lower is None or upper is None else upper - lower
        gauges = self.gauges(stacks)
        guarded = self.guard_band is not None or self.guard_by_uncertainty
        limits = LimitsOfSize(
            lower=lower,
            upper=upper,
            tolerance=tolerance,
            gauges=gauges,
            test_uncertainty_ratio=shown_ratio(judged(tolerance, stacks_of(gauges))),
            guard_band=(self.guard_band or 0) if guarded else None,
        )
        guard, off = limits.guard_band, limits.largest_uncertainty
        covered = None if guard is None or off is None else off <= guard
        limits = replace(limits, guard_covers_uncertainty=covered)
        return limits, limits_remarks(limits, guard_sought=self.guard_by_uncertainty)

    def _places(self) -> tuple[tuple[GaugeRole, GaugePlace], ...]:
        """Where the gauges for lower and upper limit lie, as far as these are checked."""
        allowances = self._allowances()
        (lower, upper), roles = self.limits_of_size(), _ROLES[self.measured_feature()]
        ends: tuple[tuple[GaugeRole, int | None, Literal[1, -1]], ...] = (
            (roles[0], lower, 1),
            (roles[1], upper, -1),
        )
        return tuple(
            (role, gauge_at(limit, inward, allowances, go=role == "go"))
            for role, limit, inward in ends
            if limit is not None
        )

    def _allowances(self) -> Allowances:
        gauged = self.measured_feature() != "step"
        require(
            *positive(self, "rounded_to"),
            *not_negative(self, "guard_band"),
            unless(
                self.rounded_to is not None or not self.guard_by_uncertainty,
                "rounded_to",
                "is needed by guard_by_uncertainty: an uncertainty is no round length",
            ),
            *not_negative(self, "wear_allowance", "gauge_tolerance"),
            unless(gauged or self.wear_allowance is None, "wear_allowance", _NO_GAUGE),
            unless(gauged or self.gauge_tolerance is None, "gauge_tolerance", _NO_GAUGE),
        )
        return Allowances(
            guard_band=self.guard_band or 0,
            wear_allowance=self.wear_allowance or 0,
            gauge_tolerance=self.gauge_tolerance,
            gauge_zone=self.gauge_zone,
            rounded_to=self.rounded_to,
        )

    def _require_room(self, places: Sequence[GaugePlace]) -> None:
        """Refuse allowances that leave nothing between the gauges, or no length of a stack."""
        moving = ("gauge_tolerance", "wear_allowance", "guard_band")
        given = next((name for name in moving if getattr(self, name)), "rounded_to")
        # Rounding is at fault where there was room before it.
        at = "rounded_to" if self.rounded_to and has_room(places, rounded=False) else given
        require(unless(has_room(places), at, "leaves nothing of the tolerance"))
