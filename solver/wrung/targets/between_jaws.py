"""Settings between end jaws, and of bore and snap gauges: stacks with accessories at their ends."""

from collections.abc import Iterator, Sequence
from math import ceil, hypot
from typing import Annotated, ClassVar, Literal

from msgspec import Meta

from wrung.answers import Stack, Unmet
from wrung.blocks import Block
from wrung.calibrations import Calibration
from wrung.checked_types import CheckedStruct
from wrung.errors import Fault, greater, not_negative, positive, require, unless
from wrung.materials import material_fault
from wrung.measures import Deviation, Length, Margin, Ratio
from wrung.metrology.conditions import Conditions
from wrung.metrology.temperature import change_by_temperature
from wrung.targets.base import Name, StackTarget, TargetResult
from wrung.targets.built import BudgetedStack, BuiltLength, built, in_use
from wrung.targets.requirement import Requirement
from wrung.targets.tolerance_ratios import Judged, ratio_remarks, shown_ratio


class Accessory(CheckedStruct, frozen=True, kw_only=True):
    """An accessory wrung or clamped to the stack, such as an end jaw."""

    thickness: Annotated[Length, Meta(description="Its nominal thickness between the faces.")]
    effect: Annotated[
        Literal["adds", "subtracts"],
        Meta(description="Whether it makes the setting longer or shorter than the stack."),
    ]
    deviation: Annotated[Deviation, Meta(description="Certified deviation of thickness.")] = 0
    expanded_uncertainty: Annotated[
        Margin,
        Meta(description="Expanded uncertainty, or limit deviation, with the joint to it."),
    ] = 0

    material: Annotated[Name | None, Meta(description="What it is made of; steel if left out.")] = (
        None
    )
    expansion: Annotated[
        Ratio | None,
        Meta(
            description="Its coefficient of thermal expansion, 1e-6/K; before that of its material."
        ),
    ] = None

    @property
    def sign(self) -> int:
        """1 if it adds, -1 if it subtracts."""
        return 1 if self.effect == "adds" else -1

    def faults(self, at: str) -> Iterator[Fault | None]:
        """What is wrong with it; ``at`` is its pointer."""
        yield material_fault(self.material, f"{at}/material")
        yield from positive(self, "thickness", at=at)
        yield from not_negative(self, "expanded_uncertainty", at=at)


class BetweenJawsTarget(StackTarget, frozen=True, kw_only=True, tag="between_jaws"):
    """A stack with accessories that sets an inside micrometer or a bore gauge.

    The round side of a half-round jaw adds its thickness. Leave out flat jaws that reach past the
    stack: the gap between them is as long as the stack.

    In Python, lengths are in quanta of 0.01 nm, see `wrung.mm` and `wrung.inch`.

    >>> jaw = Accessory(thickness=mm("5"), effect="adds")
    >>> target = BetweenJawsTarget(ref="bore", size=mm("42.13"), accessories=(jaw, jaw))
    >>> [to_text(each.length, "mm") for each in target.requirements()]
    ['32.13']
    """

    cautions: ClassVar[tuple[str, ...]] = ("caution.square_on",)

    size: Annotated[Length, Meta(description="Size to set, over or between the accessories.")]
    accessories: Annotated[
        tuple[Accessory, ...],
        Meta(max_length=8, description="Accessories that add to the stack or subtract from it."),
    ] = ()
    lower_deviation: Annotated[
        Deviation | None,
        Meta(description="Lower limit of the work less `size`, to get the readings at the limits."),
    ] = None
    upper_deviation: Annotated[
        Deviation | None, Meta(description="Upper limit of the work less `size`, likewise.")
    ] = None

    def requirements(self) -> tuple[Requirement, ...]:
        """The stack between the accessories."""
        self._check()
        return (self.stack(self._between()),)

    def in_use(self, conditions: Conditions) -> Conditions:
        """The conditions; where readings on a part are wanted, with a part."""
        readings = (self.lower_deviation, self.upper_deviation)
        return conditions if readings == (None, None) else conditions.with_part()

    def results(self, stacks: Sequence[Stack], _unmet: Sequence[Unmet] = ()) -> "BetweenJawsResult":
        """The setting as built, and what a gauge set to it shows at the work's limits."""
        stack = built(stacks, self.name_of())
        thickness = sum(a.sign * (a.thickness + a.deviation) for a in self.accessories)
        # Worst case, as in stacks: margins add up plainly, whichever way an accessory counts.
        margin = sum(a.expanded_uncertainty for a in self.accessories)
        setting = None if stack is None else stack.length + thickness
        error = None if setting is None else setting - self.size
        found = self._judged(stack, error or 0, margin)
        heat = self._temperature_effect(in_use(stacks, self.name_of()))
        offset = None if error is None else error + (heat or 0)
        return BetweenJawsResult(
            target=self.ref,
            remarks=ratio_remarks(found),
            stack=stack,
            stack_length=self._between(),
            setting=setting,
            error=error,
            margin=None if stack is None else stack.margin + margin,
            temperature_offset=None if heat is None else -heat,
            expanded_uncertainty=found.uncertainty if found else None,
            reading_at_lower=_reading(self.lower_deviation, offset),
            reading_at_upper=_reading(self.upper_deviation, offset),
            test_uncertainty_ratio=shown_ratio(found),
        )

    def _between(self) -> int:
        # Nominal thicknesses only: certified deviations are the business of the result.
        return self.size - sum(a.sign * a.thickness for a in self.accessories)

    def _temperature_effect(self, used: BudgetedStack | None) -> int | None:
        """How much longer the setting is, or a part that fits it is at 20 °C, for temperature."""
        if used is None:
            return None
        effect = used.budget.temperature_effect
        for each in self.accessories:
            effect += each.sign * round(change_by_temperature([_as_block(each)], used.conditions))
        return effect

    def _judged(self, stack: BuiltLength | None, error: int, margin: int) -> Judged | None:
        """The work's tolerance, with the error of the setting and the margins of accessories."""
        lower, upper = self.lower_deviation, self.upper_deviation
        if stack is None or lower is None or upper is None:
            return None
        known, each = stack.expanded_uncertainty, [a.expanded_uncertainty for a in self.accessories]
        return Judged(
            width=upper - lower,
            worst_case=abs(error) + stack.margin + margin,
            # The readings allow for the offset, so that the uncertainties alone count.
            uncertainty=None if known is None else ceil(hypot(known, *each)),
        )

    def _check(self) -> None:
        listed = {f"/accessories/{k}": each for k, each in enumerate(self.accessories)}
        require(
            *positive(self, "size"),
            *(fault for at, each in listed.items() for fault in each.faults(at)),
            greater(self, "upper_deviation", than="lower_deviation"),
        )
        detail = "the accessories leave no length for the stack"
        require(unless(self._between() > 0, "accessories", detail))


class BetweenJawsResult(TargetResult, frozen=True, kw_only=True, tag="between_jaws"):
    """A setting as built."""

    stack: Annotated[BuiltLength | None, Meta(description="The stack as built, if it was.")]
    stack_length: Annotated[Length, Meta(description="Length of the stack for this setting.")]
    setting: Annotated[Length | None, Meta(description="Best known size with accessories.")]
    error: Annotated[Deviation | None, Meta(description="That size less the wanted one.")]
    margin: Annotated[
        Margin | None,
        Meta(
            description="How much the setting may differ from that size: "
            "errors of stack and accessories."
        ),
    ]
    temperature_offset: Annotated[
        Deviation | None,
        Meta(
            description="How much longer than the setting a part of its length is under the "
            "conditions of use; contained in the readings."
        ),
    ]
    expanded_uncertainty: Annotated[
        Margin | None,
        Meta(
            description="Of the setting, where both limits of the work are given: root of the sum "
            "of the squares of those of stack and accessories."
        ),
    ]
    reading_at_lower: Annotated[
        Deviation | None, Meta(description="Reading of a gauge zeroed on it, at the lower limit.")
    ]
    reading_at_upper: Annotated[
        Deviation | None, Meta(description="Reading of a gauge zeroed on it, at the upper limit.")
    ]
    test_uncertainty_ratio: Annotated[
        Ratio | None,
        Meta(
            description="Test uncertainty ratio (TUR): width of the work's tolerance over twice "
            "`expanded_uncertainty`. The readings allow for the offset. Rounded down."
        ),
    ]


def _reading(deviation: int | None, offset: int | None) -> int | None:
    # The gauge shows 0 on the setting as it is, not on the wanted size.
    return None if deviation is None or offset is None else deviation - offset


def _as_block(accessory: Accessory) -> Block:
    """An accessory as far as temperature goes."""
    known = None
    if accessory.expansion is not None:
        known = Calibration(expansion=float(accessory.expansion))
    return Block(
        id="",
        nominal=accessory.thickness,
        material=accessory.material,
        calibration=known,
        limit_deviation=0,
    )
