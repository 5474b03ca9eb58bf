"""An answer is to what was asked: its targets, and its objective."""

from collections import Counter
from collections.abc import Iterator

from wrung.checker.case import Breach, Case


def refs(case: Case) -> Iterator[Breach]:
    """Every target is answered once, by a stack or as unmet, in the order asked for."""
    served = [stack.name for stack in case.answer.stacks]
    unserved = [unmet.name for unmet in case.answer.unmet]
    # Stacks and unmet targets are lists apart, so each has an order of its own.
    for answered in (served, unserved):
        known = [name for name in dict.fromkeys(answered) if name in case.requirements]
        if known != [name for name in case.requirements if name in known]:
            yield Breach(rule="refs", detail="the targets do not stand in the order asked for")
    count = Counter(served + unserved)
    for name in sorted(count.keys() | case.requirements.keys(), key=str):
        if name not in case.requirements:
            yield Breach(rule="refs", name=name, detail="nobody asked for this target")
        elif count[name] != 1:
            yield Breach(rule="refs", name=name, detail=f"it is answered {count[name]} times")


def objective(case: Case) -> Iterator[Breach]:
    """The objective is the one asked for."""
    if case.answer.objective != case.objective:
        detail = f"the objective asked for is {case.objective}, not {case.answer.objective}"
        yield Breach(rule="objective", detail=detail)
