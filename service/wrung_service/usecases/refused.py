"""What happens to an answer that the independent checker does not confirm."""

from collections.abc import Callable, Iterable, Sequence
from typing import TypeAlias, TypeVar

from wrung.checker.verify import Breach

NoteRefusedClaims: TypeAlias = Callable[[Sequence[str]], None]
"""Called with the rules that an answer's claims break, once for each answer sent without them."""

_Answer = TypeVar("_Answer")


class AnswerRefusedError(Exception):
    """The checker found the answer wrong; ``rules`` names the rules that it breaks."""

    def __init__(self, rules: Iterable[str]) -> None:
        self.rules = tuple(sorted(set(rules)))
        super().__init__(", ".join(self.rules))


def refuse_if_broken(breaches: Iterable[Breach]) -> None:
    """Do nothing unless something is wrong.

    Raises:
        AnswerRefusedError: there is a breach.
    """
    rules = [breach.rule for breach in breaches]
    if rules:
        raise AnswerRefusedError(rules)


def confirmed(
    answer: _Answer,
    check: Callable[[_Answer], Sequence[Breach]],
    *weaker: Callable[[_Answer], _Answer],
    note: NoteRefusedClaims,
) -> _Answer:
    """The answer if it holds; where only what it claims does not, the first weaker one that does.

    Right stacks are worth having without their proof, wrong ones are not worth having at all.

    Raises:
        AnswerRefusedError: a stack is wrong, or no weaker answer holds.
    """
    breaches = check(answer)
    if not breaches:
        return answer
    rules = AnswerRefusedError(breach.rule for breach in breaches)
    if not all(breach.claim for breach in breaches):
        raise rules
    for weaken in weaker:
        if not check(weakened := weaken(answer)):
            note(rules.rules)
            return weakened
    raise rules
