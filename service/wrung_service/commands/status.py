"""Exit statuses, the same for every command."""

from enum import IntEnum
from typing import Final

from wrung.answers import Outcome


class Status(IntEnum):
    """What a command ends with; 1 is a fault of this program."""

    DONE = 0
    REFUSED = 2
    PARTLY = 3
    IMPOSSIBLE = 4
    OUT_OF_TIME = 5


BY_OUTCOME: Final[dict[Outcome, Status]] = {
    "optimal": Status.DONE,
    "feasible": Status.DONE,
    "partial": Status.PARTLY,
    "infeasible": Status.IMPOSSIBLE,
    "unknown": Status.OUT_OF_TIME,
}

_EXPLAINED: Final = """\b
Exit status:
  0  done: every target has a stack, the check passed, everything was read
  1  a fault of this program
  2  called wrongly, or the request or certificate was refused; standard error says why
  3  partly: some targets have a stack, the check failed, a survey was cut short
  4  no target can have a stack, proven
  5  the search ended before anything was found
"""


def after_help(*examples: str) -> str:
    """What stands at the end of a command's help: examples and what it ends with."""
    # The backspace tells click to leave the lines as they are.
    return "\n  ".join(("\b\nExamples:", *examples)) + f"\n\n{_EXPLAINED}"
