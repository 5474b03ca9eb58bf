"""Why a target has no stack, in words that hold of this request."""

from collections.abc import Iterable, Iterator
from functools import cached_property
from typing import Final

from wrung.answers import Remedy, Restriction, Unmet, UnmetReason
from wrung.blocks import Block
from wrung.handwork.step import told_apart
from wrung.measures import Measure
from wrung.targets import Requirement
from wrung.targets.angle_cases import angle_cases
from wrung.targets.requirement import WEAR_COUNT
from wrung.texts import Marked, Phrase, figure, phrase
from wrung_service.api.crib.taken import taken_in_words
from wrung_service.usecases.crib_shelf import Taken
from wrung_service.usecases.stack_query import StackQuery, forbidden_ids
from wrung_service.usecases.withheld import Withheld

_REASONS: Final[dict[UnmetReason, str]] = {
    "cannot_be_built": "unmet.cannot_be_built",
    "blocks_in_use": "unmet.blocks_in_use",
    "not_decided": "unmet.not_decided",
}

_WAYS: Final[dict[Restriction, str]] = {
    "overdue": "unmet.way_overdue",
    "exclude": "unmet.way_exclude",
    "only": "unmet.way_only",
    "max_blocks": "unmet.way_max_blocks",
    "wear_blocks": "unmet.way_wear_blocks",
    "required_ratio": "unmet.way_required_ratio",
}
_REMEDIES: Final = {
    (False, False): "unmet.remedy",
    (False, True): "unmet.remedy_all",
    (True, False): "unmet.remedy_beside",
    (True, True): "unmet.remedy_beside_all",
}
"""By whether it is beside other stacks, and whether several things must be allowed."""


class UnmetReasons:
    """Says why stacks are unmet, and what of the request stands in the way.

    Attributes:
        ranked: whether some target has a priority.
    """

    def __init__(self, query: StackQuery, withheld: Iterable[Withheld] = ()) -> None:
        self._query = query
        self._withheld = {each.name: each.taken for each in withheld}
        wanted = [r for target in query.targets for r in target.requirements()]
        wanted += [t.angle_requirement() for c in angle_cases(query.targets) for t in c.targets]
        self._wanted = {requirement.name: requirement for requirement in wanted}
        self.ranked = any(each.priority is not None for each in wanted)
        self._limited = {each.name for each in query.required_ratios}

    def why(self, unmet: Unmet) -> Phrase:
        """The reason; its figures are those of the blocks that may be used."""
        if unmet.reason != "cannot_be_built":
            return phrase(_REASONS[unmet.reason])
        wanted = self._wanted[unmet.name]
        if unmet.name in self._withheld:
            return phrase("unmet.not_from_free")
        return self._plainly(wanted) or phrase(
            "unmet.not_good_enough" if unmet.name in self._limited else "unmet.cannot_be_built"
        )

    def taken(self, unmet: Unmet) -> tuple[Taken, ...]:
        """What others have of a plan with it."""
        return self._withheld.get(unmet.name, ())

    def taken_in_words(self, unmet: Unmet) -> Iterator[Phrase]:
        """The same as a sentence."""
        crib, taken = self._query.crib, self.taken(unmet)
        if crib is not None and taken:
            blocks = tuple(
                taken_in_words(each, self._blocks[each.block], crib.time_zone)
                for each in taken
                # Another step of a step block may be of a set that was not asked for.
                if each.block in self._blocks
            )
            yield phrase("unmet.taken", figure("blocks", blocks))

    def holders(self, unmet: Unmet) -> Iterator[Phrase]:
        """Whose stacks hold the blocks, where targets have priorities."""
        if not self.ranked or not unmet.held_by:
            return
        targets, priority = figure("targets", ", ".join(unmet.held_by)), unmet.held_by_priority
        if priority is None:
            yield phrase("unmet.held_without_priority", targets)
        else:
            yield phrase("unmet.held_by_priority", figure("priority", priority), targets)

    def remedy(self, unmet: Unmet, remedy: Remedy) -> Phrase:
        """What would have to be allowed."""
        wanted = self._wanted[unmet.name]
        ways = tuple(self._way(each, remedy, wanted) for each in remedy.lifted)
        beside = unmet.reason == "blocks_in_use"
        return phrase(_REMEDIES[beside, len(ways) > 1], figure("ways", ways))

    # The lists of blocks are made only where something is unmet: most answers need none.
    @cached_property
    def _blocks(self) -> dict[str, Block]:
        return {block.id: block for block in self._query.blocks}

    @cached_property
    def _forbidden(self) -> dict[Restriction, frozenset[str]]:
        return forbidden_ids(self._query)

    @cached_property
    def _usable(self) -> list[Block]:
        without = frozenset[str]().union(*self._forbidden.values())
        return [block for block in self._query.blocks if block.id not in without]

    def _plainly(self, wanted: Requirement) -> Phrase | None:
        """A reason that is seen at a glance; None where there is none."""
        if not self._blocks:
            return phrase("unmet.no_blocks")
        if not self._usable:
            return phrase("unmet.all_left_out")
        asked = WEAR_COUNT[wanted.wear_blocks]
        there = sum(block.role == "wear" for block in self._usable)
        if there < asked:
            return phrase("unmet.few_wear_blocks", figure("asked", asked), figure("there", there))
        return self._out_of_range(wanted)

    def _out_of_range(self, wanted: Requirement) -> Phrase | None:
        lengths = [block.nominal for block in self._usable]
        if wanted.length + wanted.tolerance.lower > sum(lengths):
            return phrase("unmet.too_long", figure("total", sum(lengths), Measure.LENGTH))
        if wanted.length + wanted.tolerance.upper < min(lengths):
            return phrase("unmet.too_short", figure("least", min(lengths), Measure.LENGTH))
        return None

    def _way(self, lifted: Restriction, remedy: Remedy, wanted: Requirement) -> Phrase:
        match lifted:
            case "max_blocks":
                most = figure("most", wanted.max_blocks or 0)
                return phrase(_WAYS[lifted], figure("count", len(remedy.blocks)), most)
            case "wear_blocks" | "required_ratio":
                return phrase(_WAYS[lifted])
            case _:
                return phrase(_WAYS[lifted], figure("blocks", self._named(lifted, remedy)))

    def _named(self, restriction: Restriction, remedy: Remedy) -> tuple[Marked, ...]:
        forbidden = self._forbidden.get(restriction, frozenset[str]())
        return tuple(told_apart(self._blocks[name]) for name in remedy.blocks if name in forbidden)
