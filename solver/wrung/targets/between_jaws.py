"""Settings between end jaws, and of bore and snap gauges: stacks with accessories at their ends."""

from collections.abc import Sequence
from typing import Annotated, ClassVar, Literal

from msgspec import Meta, Struct

from wrung.answers import Stack, Unmet
from wrung.measures import Deviation, Length, Margin
from wrung.targets.base import StackTarget, TargetResult, require, unless
from wrung.targets.built import BuiltLength, built
from wrung.targets.requirement import Requirement


class Accessory(Struct, frozen=True, kw_only=True):
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

    @property
    def sign(self) -> int:
        """1 if it adds, -1 if it subtracts."""
        return 1 if self.effect == "adds" else -1


class BetweenJawsTarget(StackTarget, frozen=True, kw_only=True, tag="between_jaws"):
    """A stack with accessories that sets an inside micrometer or a bore gauge.

    The round side of a half-round jaw adds its thickness. Leave out flat jaws that reach past the
    stack: the gap between them is as long as the stack.
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

    def results(self, stacks: Sequence[Stack], unmet: Sequence[Unmet] = ()) -> "BetweenJawsResult":
        """The setting as built, and what a gauge set to it shows at the work's limits."""
        del unmet
        stack = built(stacks, self.name_of())
        thickness = sum(a.sign * (a.thickness + a.deviation) for a in self.accessories)
        # Worst case, as in stacks: margins add up plainly, whichever way an accessory counts.
        margin = sum(a.expanded_uncertainty for a in self.accessories)
        setting = None if stack is None else stack.length + thickness
        return BetweenJawsResult(
            target=self.ref,
            stack=stack,
            stack_length=self._between(),
            setting=setting,
            error=None if setting is None else setting - self.size,
            margin=None if stack is None else stack.margin + margin,
            reading_at_lower=self._reading(self.lower_deviation, setting),
            reading_at_upper=self._reading(self.upper_deviation, setting),
        )

    def _between(self) -> int:
        # Nominal thicknesses only: certified deviations are the business of the result.
        return self.size - sum(a.sign * a.thickness for a in self.accessories)

    def _reading(self, deviation: int | None, setting: int | None) -> int | None:
        if deviation is None or setting is None:
            return None
        # The gauge shows 0 on the setting as it is, not on the wanted size.
        return self.size + deviation - setting

    def _check(self) -> None:
        lower, upper = self.lower_deviation, self.upper_deviation
        require(
            unless(self.size > 0, "size", "must be greater than zero"),
            *(
                unless(a.thickness > 0, f"accessories/{k}/thickness", "must be greater than zero")
                for k, a in enumerate(self.accessories)
            ),
            *(
                unless(
                    a.expanded_uncertainty >= 0,
                    f"accessories/{k}/expanded_uncertainty",
                    "must not be negative",
                )
                for k, a in enumerate(self.accessories)
            ),
            unless(
                lower is None or upper is None or lower < upper,
                "upper_deviation",
                "must be greater than lower_deviation",
            ),
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
    reading_at_lower: Annotated[
        Deviation | None, Meta(description="Reading of a gauge zeroed on it, at the lower limit.")
    ]
    reading_at_upper: Annotated[
        Deviation | None, Meta(description="Reading of a gauge zeroed on it, at the upper limit.")
    ]
