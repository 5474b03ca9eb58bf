"""What the checker checks: what was asked for, what came back, and the breaches that it finds."""

from collections.abc import Mapping, Sequence
from functools import cached_property

from msgspec import Struct
from msgspec.structs import replace

from wrung.answers import Answer, Objective, PlacedBlock, Restriction, Stack
from wrung.blocks import Block
from wrung.checker.errors import compared_error
from wrung.checker.steps import whole_bodies
from wrung.checker.times import overlap
from wrung.metrology.error_measure import ErrorMeasure
from wrung.metrology.required_ratio import RequiredRatio
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


def claim(*, rule: str, name: StackName | None = None, detail: str) -> Breach:
    """A breach that is about a claim, and not about stacks."""
    return Breach(rule=rule, name=name, detail=detail, claim=True)


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

    def stacks(self) -> Sequence[tuple[Stack, Requirement]]:
        """The stacks of known targets; the rule on refs reports the others."""
        return self._stacks

    # Nearly every rule asks for them.
    @cached_property
    def _stacks(self) -> Sequence[tuple[Stack, Requirement]]:
        named = ((stack, self.requirements.get(stack.name)) for stack in self.answer.stacks)
        return [(stack, wanted) for stack, wanted in named if wanted is not None]

    def really(self, stack: Stack) -> list[Block]:
        """The blocks of a stack as they are on the shelf; unknown ones are left out."""
        known = self._really.get(id(stack))
        return self._on_shelf(stack) if known is None else known

    # Most rules on figures ask for them.
    @cached_property
    def _really(self) -> Mapping[int, list[Block]]:
        return {id(stack): self._on_shelf(stack) for stack in self.answer.stacks}

    def _on_shelf(self, stack: Stack) -> list[Block]:
        # By the shelf, so that a block described wrongly cannot make the answer's sums right.
        known = (placed for placed in stack.blocks if placed.id in self.blocks)
        return [self._turned(self.blocks[placed.id], placed) for placed in known]

    def nominals(self, block: Block) -> tuple[int, ...]:
        """The nominal lengths that the block may have in a stack."""
        return (block.nominal, -block.nominal) if self.signed else (block.nominal,)

    def _turned(self, block: Block, placed: PlacedBlock) -> Block:
        """A block that subtracts counts with the other sign."""
        if self.signed and placed.nominal < 0:
            return replace(block, nominal=-block.nominal)
        return block

    def error(self, stack: Stack, wanted: Requirement) -> int:
        """The error of a stack by the measure asked for."""
        really = self.really(stack)
        return compared_error(really, wanted.length, self.measure, self.joint_allowance)

    def busy(self, requirement: Requirement) -> set[str]:
        """Ids of blocks in stacks of other targets that are needed at the same time.

        Where one step of a step block is in use, the others are.
        """
        used = {
            placed.id
            for stack, other in self.stacks()
            if other.name != requirement.name and overlap(requirement, other)
            for placed in stack.blocks
        }
        return whole_bodies(used, self.blocks)
