"""Solve something small, to know that solving works at all."""

from wrung.blocks import Block
from wrung.lengths import mm, um
from wrung.targets import LengthTarget
from wrung_service.usecases.solve_stacks import Solve

_TIME_LIMIT_MS = 10_000


def self_test(solve: Solve) -> bool:
    """Whether 2.5 mm is built from 1 mm and 1.5 mm."""
    # 2.5 mm comes out of these in one way only, so the answer is known.
    blocks = [_block("1"), _block("1.5"), _block("2")]
    answer = solve(
        blocks,
        [LengthTarget(ref="self-test", length=mm("2.5"))],
        objective="fewest_blocks",
        joint_allowance=0,
        exclude=(),
        only=None,
        time_limit_ms=_TIME_LIMIT_MS,
        cancel=None,
    )
    ids = {block.id for stack in answer.stacks for block in stack.blocks}
    return answer.outcome == "optimal" and ids == {"1", "1.5"}


def _block(nominal: str) -> Block:
    return Block(id=nominal, nominal=mm(nominal), limit_deviation=um("0.1"))
