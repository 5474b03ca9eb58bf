"""What is raised where the independent checker does not confirm an answer."""

from collections.abc import Iterable

from wrung.verify import Breach


class AnswerRefusedError(Exception):
    """The checker found the answer wrong; ``rules`` names the rules that it breaks."""

    def __init__(self, rules: Iterable[str]) -> None:
        self.rules = tuple(sorted(set(rules)))
        super().__init__(", ".join(self.rules))


def refuse_if_broken(breaches: Iterable[Breach]) -> None:
    """Nothing, unless something is wrong.

    Raises:
        AnswerRefusedError: there is a breach.
    """
    rules = [breach.rule for breach in breaches]
    if rules:
        raise AnswerRefusedError(rules)
