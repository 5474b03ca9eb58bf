"""A depth for a depth micrometer: its base on two equal stacks, its rod down to the plate."""

from collections.abc import Sequence
from math import ceil
from typing import Annotated, ClassVar

from msgspec import Meta

from wrung.answers import Stack, Unmet
from wrung.errors import positive, require
from wrung.measures import Deviation, Length, Margin
from wrung.targets.base import StackTarget, TargetResult
from wrung.targets.built import BuiltLength, built, temperature_remarks
from wrung.targets.requirement import Requirement


class DepthSettingTarget(StackTarget, frozen=True, kw_only=True, tag="depth_setting"):
    """Two stacks of one length under the base of a depth gauge, one on each side of its rod.

    In Python, lengths are in quanta of 0.01 nm, see `wrung.mm` and `wrung.inch`.

    >>> target = DepthSettingTarget(ref="depth", depth=mm("37.5"))
    >>> [to_text(each.length, "mm") for each in target.requirements()]
    ['37.5', '37.5']
    """

    cautions: ClassVar[tuple[str, ...]] = ("caution.standing",)
    stands: ClassVar[bool] = True

    depth: Annotated[Length, Meta(description="Wanted depth.")]

    def requirements(self) -> tuple[Requirement, ...]:
        """The two stacks, from different blocks."""
        require(*positive(self, "depth"))
        return tuple(self.stack(self.depth, role=role) for role in ("left", "right"))

    def results(
        self, stacks: Sequence[Stack], _unmet: Sequence[Unmet] = ()
    ) -> "DepthSettingResult":
        """The depth that both stacks stand for."""
        found = [built(stacks, self.name_of(role)) for role in ("left", "right")]
        both = [each for each in found if each is not None]
        # Midway between the stacks the rod sees their mean, however the base is tilted.
        setting = round(sum(each.length for each in both) / 2) if len(both) > 1 else None
        return DepthSettingResult(
            target=self.ref,
            remarks=temperature_remarks(stacks),
            stacks=tuple(both),
            setting=setting,
            error=None if setting is None else setting - self.depth,
            margin=None if setting is None else ceil(sum(each.margin for each in both) / 2),
            difference=both[0].length - both[1].length if len(both) > 1 else None,
            expanded_uncertainty=_mean([each.expanded_uncertainty for each in both]),
        )


class DepthSettingResult(TargetResult, frozen=True, kw_only=True, tag="depth_setting"):
    """A depth, from two stacks of one length."""

    stacks: Annotated[
        tuple[BuiltLength, ...], Meta(description="The stacks as built, left and right.")
    ]
    setting: Annotated[
        Length | None,
        Meta(description="Best known depth midway between the stacks: the mean of both."),
    ]
    error: Annotated[Deviation | None, Meta(description="That depth less the wanted one.")]
    margin: Annotated[
        Margin | None, Meta(description="How much the true depth may differ from it, at worst.")
    ]
    difference: Annotated[
        Deviation | None,
        Meta(description="Left less right stack: by so much the base stands out of level."),
    ]
    expanded_uncertainty: Annotated[
        Margin | None,
        Meta(
            description="Of the depth: the mean of those of both stacks, as if their errors went "
            "together."
        ),
    ]


def _mean(uncertainties: Sequence[int | None]) -> int | None:
    known = [each for each in uncertainties if each is not None]
    # Stacks of one certificate are off together, so that a mean is no better than one of them.
    return ceil(sum(known) / 2) if len(known) > 1 else None
