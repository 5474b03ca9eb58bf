"""The result of a ranking."""

from collections.abc import Sequence
from typing import TypeAlias

from msgspec import Struct

from wrung.planning.problem import Problem, error_of

Kinds: TypeAlias = tuple[tuple[int, int, int, bool], ...]
"""Nominal, deviation, margin and role of each piece, in order: what tells stacks apart."""


class Ranked(Struct, frozen=True, kw_only=True):
    """A stack, and whether every stack that is better by the objective is known."""

    stack: tuple[int, ...]
    proven: bool


class Ranking(Struct, frozen=True, kw_only=True):
    """Stacks of the first demand, best first; no two of the same kinds of pieces.

    Attributes:
        stacks: those that are proven before those that are not.
        complete: there are no others.
    """

    stacks: tuple[Ranked, ...]
    complete: bool


def kinds_of(problem: Problem, stack: Sequence[int]) -> Kinds:
    """What a stack is made of, whichever of several interchangeable pieces it has."""
    pieces = [problem.pieces[index] for index in stack]
    return tuple(sorted((p.nominal, p.deviation, p.margin, p.wear) for p in pieces))


def value_of(problem: Problem, stack: Sequence[int]) -> tuple[int, int]:
    """The key by which stacks of the first demand are compared; smaller is better."""
    error = error_of(problem, 0, stack)
    few = problem.objective == "fewest_blocks"
    return (len(stack), error) if few else (error, len(stack))
