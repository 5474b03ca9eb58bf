"""Stacks that take no block from elsewhere if one like it is on the shelf."""

from collections.abc import Sequence

from wrung.planning.problem import Piece


def thrifty(pieces: Sequence[Piece], stack: Sequence[int], there: int) -> tuple[int, ...]:
    """The stack with no piece from elsewhere where one that is there has its length.

    The first ``there`` pieces are there.
    """
    chosen = set(stack)
    for index in sorted(chosen):
        if index < there:
            continue
        kind = (pieces[index].nominal, pieces[index].wear)
        alike = (k for k in range(there) if (pieces[k].nominal, pieces[k].wear) == kind)
        other = next((k for k in alike if k not in chosen), None)
        if other is not None:
            chosen = chosen - {index} | {other}
    return tuple(sorted(chosen))
