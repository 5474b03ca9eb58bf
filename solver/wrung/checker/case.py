"""What the checker checks: what was asked for, what came back, and the breaches that it finds."""

from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import TypeAlias

from msgspec import Struct
from msgspec.structs import replace

from wrung.answers import Answer, Objective, PlacedBlock, Restriction, Stack
from wrung.blocks import Block
from wrung.checker.contention import overlap, whole_bodies
from wrung.checker.errors import compared_error, factor_of, keeps_ratio
from wrung.metrology.error_measure import ErrorMeasure, RequiredRatio
from wrung.preferences import Preference
from wrung.stack_names import StackName
from wrung.targets import Requirement


class Breach(Struct, frozen=True, kw_only=True):
    """A rule that an answer breaks.

    Attributes:
        rule: name of the rule.
        name: the stack that breaks it; None where the answer as a whole does.
        detail: what is wrong, in a sentence. Lengths are quanta of 0.01 nm.
        claim: whether it is about what is claimed beside the stacks: bounds, proofs, reasons,
            advice. Without that, see `wrung.without_claims`, the stacks may be built.
    """

    rule: str
    name: StackName | None = None
    detail: str
    claim: bool = False


Found: TypeAlias = tuple[StackName | None, str]
"""What a rule finds: the stack that breaks it, as in `Breach`, and what is wrong."""


class Case(Struct, frozen=True, kw_only=True, dict=True):
    """What was asked for and what came back; ``signed`` where blocks may be turned to subtract.

    ``withheld`` are the ids of the blocks that a restriction forbids.
    """

    blocks: Mapping[str, Block]
    allowed: frozenset[str]
    requirements: Mapping[StackName, Requirement]
    answer: Answer
    objective: Objective
    joint_allowance: int
    measure: ErrorMeasure
    ratios: Mapping[StackName, RequiredRatio]
    preferences: tuple[Preference, ...] = ()
    signed: bool = False
    withheld: Mapping[Restriction, frozenset[str]] = {}

    # Nearly every rule asks for them.
    @cached_property
    def stacks(self) -> Sequence[tuple[Stack, Requirement]]:
        """The stacks of known targets; the rule on refs reports the others."""
        named = ((stack, self.requirements.get(stack.name)) for stack in self.answer.stacks)
        return [(stack, wanted) for stack, wanted in named if wanted is not None]

    def really(self, stack: Stack) -> list[Block]:
        """The blocks of a stack as they are on the shelf; unknown ones are left out."""
        return self._really[id(stack)]

    # Most rules on figures ask for them.
    @cached_property
    def _really(self) -> Mapping[int, list[Block]]:
        # By the shelf, so that a block described wrongly cannot make the answer's sums right.
        return {
            id(stack): [self._turned(each) for each in stack.blocks if each.id in self.blocks]
            for stack in self.answer.stacks
        }

    def nominals(self, block: Block) -> tuple[int, ...]:
        """The nominal lengths that the block may have in a stack."""
        return (block.nominal, -block.nominal) if self.signed else (block.nominal,)

    def _turned(self, placed: PlacedBlock) -> Block:
        """A block that subtracts counts with the other sign."""
        block = self.blocks[placed.id]
        if self.signed and placed.nominal < 0:
            return replace(block, nominal=-block.nominal)
        return block

    def error(self, blocks: Sequence[Block], wanted: Requirement) -> int:
        """The error of a stack of these blocks by the measure asked for."""
        return compared_error(blocks, wanted.length, self.measure, self.joint_allowance)

    def keeps_ratio(self, blocks: Sequence[Block], wanted: Requirement) -> bool:
        """Whether a stack of these blocks keeps the ratio required of it, if there is one."""
        required = self.ratios.get(wanted.name)
        return required is None or keeps_ratio(
            self.error(blocks, wanted), required, self.measure, self._factor
        )

    # Once for all, as it takes the rows of the whole shelf.
    @cached_property
    def _factor(self) -> float:
        return factor_of([self.blocks[name] for name in sorted(self.allowed)], self.measure)

    def busy(self, requirement: Requirement) -> set[str]:
        """Ids of blocks in stacks of other targets that are needed at the same time.

        Where one step of a step block is in use, the others are.
        """
        used = {
            placed.id
            for stack, other in self.stacks
            if other.name != requirement.name and overlap(requirement, other)
            for placed in stack.blocks
        }
        return whole_bodies(used, self.blocks)
