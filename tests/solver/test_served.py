"""Stacks and whole targets are counted apart; what is said of every plan holds of every plan."""

from collections.abc import Sequence

from hypothesis import given
from hypothesis import strategies as st

from solver import oracle
from wrung import LengthTarget, mm, solve
from wrung.targets import LimitsTarget, Served, Target, served, served_at_most
from wrung.testing import make_blocks

LENGTHS = st.integers(10, 60).map(lambda tenths: tenths * mm("0.1"))


@st.composite
def mixtures(draw: st.DrawFn) -> tuple[str, tuple[Target, ...]]:
    """A few blocks, and targets of one stack and of two."""
    nominals = draw(st.lists(st.integers(10, 40), min_size=2, max_size=6, unique=True))
    targets: list[Target] = []
    for place in range(draw(st.integers(1, 3))):
        lower, upper = draw(LENGTHS), draw(LENGTHS)
        if lower < upper:
            targets.append(LimitsTarget(ref=f"t{place}", lower=lower, upper=upper))
        else:
            targets.append(LengthTarget(ref=f"t{place}", length=lower))
    return " ".join(str(n / 10) for n in nominals), tuple(targets)


def whole(targets: Sequence[Target], stacks: frozenset[object]) -> int:
    """How many of the targets have all of their stacks among these."""
    return sum(all(r.name in stacks for r in t.requirements()) for t in targets)


@given(mixtures())
def test_no_plan_serves_more_stacks_or_more_whole_targets(
    drawn: tuple[str, tuple[Target, ...]],
) -> None:
    """Held to every plan that there is."""
    blocks, targets = make_blocks(drawn[0]), drawn[1]
    wanted = [each for target in targets for each in target.requirements()]
    answer = solve(blocks, targets, joint_allowance=0, time_limit_ms=60_000)

    plans = list(oracle.every_served(blocks, wanted))
    own, most = served(targets, answer), served_at_most(targets, answer)
    assert most.stacks == max(map(len, plans))
    assert most.targets >= max(whole(targets, plan) for plan in plans)
    assert own.targets <= most.targets
    assert own == Served(
        stacks=len(answer.stacks),
        targets=whole(targets, frozenset(stack.name for stack in answer.stacks)),
    )


def test_a_target_with_one_of_two_stacks_is_not_served() -> None:
    """There is a block for GO and none for NOT GO."""
    targets: list[Target] = [
        LimitsTarget(ref="slot", lower=mm("5"), upper=mm("5.01")),
        LengthTarget(ref="op20", length=mm("7")),
    ]
    answer = solve(make_blocks("5 7"), targets)

    assert served(targets, answer) == Served(stacks=2, targets=1)
    assert served_at_most(targets, answer) == Served(stacks=2, targets=1)
