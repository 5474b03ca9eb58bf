"""Which blocks are scarce: the number that one more would serve is right, by trying every plan."""

from collections.abc import Callable
from datetime import timedelta
from fractions import Fraction
from random import Random

import pytest
from hypothesis import given, settings
from msgspec.structs import replace

from solver.oracle import best
from wrung import Answer, Block, LengthTarget, ScarceBlock, Tolerance, mm, solve, um, verify
from wrung.metrology.error_measure import RequiredRatio
from wrung.stack_names import StackName
from wrung.targets import Target, in_turn
from wrung.testing import SHIFT, Request, make_blocks, make_targets, requests

AMPLE_MS = 60_000


def hours(start: int, end: int, *targets: LengthTarget) -> tuple[LengthTarget, ...]:
    """The targets, needed between these hours of the shift."""
    since, until = SHIFT + timedelta(hours=start), SHIFT + timedelta(hours=end)
    return tuple(replace(each, needed_from=since, needed_until=until) for each in targets)


def scarce(blocks: tuple[Block, ...], targets: tuple[Target, ...]) -> tuple[ScarceBlock, ...]:
    answer = solve(blocks, targets, time_limit_ms=AMPLE_MS)
    assert verify(blocks, targets, answer) == ()
    return () if answer.shortage is None else answer.shortage.scarce_blocks


def truly(blocks: tuple[Block, ...], targets: tuple[Target, ...], like: str) -> int:
    """How many stacks there can be at the most with one more like this, by trying every plan."""
    more = next(replace(block, id="one more") for block in blocks if block.id == like)
    wanted = [each for target in targets for each in target.requirements()]
    return best((*blocks, more), wanted).served


@given(requests(max_blocks=7, max_targets=4))
@settings(deadline=None, max_examples=60)
def test_one_more_serves_what_is_said(request_: Request) -> None:
    """Between what a plan shows and what is proven, whatever the request forbids."""
    answer = solve(
        request_.blocks,
        request_.targets,
        objective=request_.objective,
        joint_allowance=request_.joint_allowance,
        exclude=request_.exclude,
        only=request_.only,
        time_limit_ms=AMPLE_MS,
    )
    usable = tuple(
        block
        for block in request_.blocks
        if block.id not in request_.exclude and block.id in (request_.only or (block.id,))
    )
    for each in answer.shortage.scarce_blocks if answer.shortage else ():
        most = truly(usable, request_.targets, each.like)
        assert each.stacks_with_one_more <= most <= each.most_stacks_with_one_more
        assert len(answer.stacks) < each.stacks_with_one_more


def shift(rng: Random) -> tuple[tuple[Block, ...], tuple[LengthTarget, ...]]:
    """Few blocks, and more targets of sums of theirs than they can serve, at several times."""
    nominals = ("1.005", "1.01", "1.02", "1.03", "2", "3", "4")
    blocks = make_blocks(" ".join(rng.choices(nominals, k=rng.randint(3, 6))))
    wanted = [rng.sample(blocks, rng.randint(1, 3)) for _ in range(rng.randint(2, 5))]
    return blocks, tuple(
        hours(
            *rng.choice(((0, 2), (1, 3), (2, 4), (0, 4))),
            LengthTarget(ref=f"t{place}", length=sum(block.nominal for block in own)),
        )[0]
        for place, own in enumerate(wanted)
    )


def test_few_kinds_worth_adding_go_unnamed() -> None:
    """Small shelves are looked through nearly wholly; effort is limited, so the seed is fixed."""
    rng, worth, named = Random(14), 0, 0  # noqa: S311 - invented data, nothing secret
    for _ in range(90):
        blocks, targets = shift(rng)
        wanted = [each for target in targets for each in target.requirements()]
        now = best(blocks, wanted).served
        kinds = {block.nominal: block.id for block in blocks}
        worth += sum(truly(blocks, targets, like) > now for like in kinds.values())
        named += len(scarce(blocks, targets))

    assert worth > 40
    assert 0.95 * worth <= named <= worth


def test_the_busiest_time_and_all_who_contend_then_are_named() -> None:
    """One block that three stacks cannot do without from the second hour on, and two before."""
    blocks = make_blocks("1.0005 2 3 4 5")
    targets = (
        *hours(0, 2, *make_targets("3.0005 4.0005")),
        *(
            replace(each, ref=f"later {each.ref}")
            for each in hours(2, 4, *make_targets("3.0005 4.0005 5.0005"))
        ),
    )

    (only,) = scarce(blocks, targets)

    assert (only.nominal, only.on_shelf) == (mm("1.0005"), 1)
    assert [each.target for each in only.contenders] == ["later t0", "later t1", "later t2"]
    assert only.contended_from == SHIFT + timedelta(hours=2)
    assert only.contended_until == SHIFT + timedelta(hours=4)
    assert (only.stacks_with_one_more, only.most_stacks_with_one_more) == (4, 4)


def test_the_best_block_to_add_comes_first() -> None:
    """One is short in both halves of the shift, the other in one of them."""
    blocks = make_blocks("1.01 1.02 2 2 2 2")
    early = hours(0, 1, *make_targets("1.01 3.01 1.02 3.02"))
    late = tuple(replace(each, ref=f"late {each.ref}") for each in early[:2])

    first, second = scarce(blocks, (*early, *hours(1, 2, *late)))

    assert (first.nominal, first.stacks_with_one_more) == (mm("1.01"), 5)
    assert (second.nominal, second.stacks_with_one_more) == (mm("1.02"), 4)


def test_wear_blocks_tolerances_inches_and_travellers_in_turn() -> None:
    """One wear block for two stacks; an inch block; steps of two travellers at one time."""
    worn = (*make_blocks("2 3 4 5"), *make_blocks("2", role="wear"))
    wants = tuple(replace(each, wear_blocks="one") for each in make_targets("4 5"))
    (wear,) = scarce(worn, wants)
    assert (wear.role, wear.on_shelf, wear.stacks_with_one_more) == ("wear", 1, 2)

    inches = make_blocks("0.1001 0.2 0.3", unit="in")
    (inch_block,) = scarce(inches, make_targets("0.3001 0.4001", unit="in"))
    assert (inch_block.unit, inch_block.stacks_with_one_more) == ("in", 2)

    near = Tolerance(lower=-um("1"), upper=um("1"))
    loose = tuple(replace(each, tolerance=near) for each in make_targets("3.01 4.01"))
    (window,) = scarce(make_blocks("1.0105 2 3"), loose)
    assert window.stacks_with_one_more == 2

    steps = in_turn(make_targets("3.01 4.01"))
    beside = replace(make_targets("5.01")[0], ref="beside")
    (turn,) = scarce(make_blocks("1.01 2 3 4"), (*steps, beside))
    assert (turn.stacks_with_one_more, turn.most_stacks_with_one_more) == (3, 3)
    assert len(turn.contenders) == 2


def test_one_more_is_as_good_as_the_block_it_is_like() -> None:
    """With a required ratio, an equal block serves the second stack."""
    blocks = tuple(replace(each, limit_deviation=um("0.5")) for each in make_blocks("1.01 2 3"))
    targets = make_targets("3.01 4.01")
    ratios = tuple(
        RequiredRatio(target=each.ref, width=um("12"), ratio=Fraction(4)) for each in targets
    )
    answer = solve(blocks, targets, required_ratios=ratios, time_limit_ms=AMPLE_MS)

    assert verify(blocks, targets, answer, required_ratios=ratios) == ()
    assert answer.shortage is not None
    (ratio,) = answer.shortage.scarce_blocks
    assert (ratio.nominal, ratio.stacks_with_one_more) == (mm("1.01"), 2)

    # One that is not good enough is on the shelf, but no help.
    poor = replace(blocks[0], id="poor", limit_deviation=um("50"))
    again = solve((*blocks, poor), targets, required_ratios=ratios, time_limit_ms=AMPLE_MS)
    assert verify((*blocks, poor), targets, again, required_ratios=ratios) == ()
    assert again.shortage is not None
    assert [(each.like, each.on_shelf) for each in again.shortage.scarce_blocks] == [("b0", 2)]


def test_nothing_is_scarce_where_all_are_served_or_nothing_is_proven() -> None:
    assert scarce(make_blocks("2 3"), make_targets("2 3")) == ()
    blocks = make_blocks("1.01 2 3 4")
    answer = solve(blocks, make_targets("3.01 4.01"), time_limit_ms=0.001)
    assert answer.shortage is None or answer.shortage.scarce_blocks == ()


@pytest.fixture(name="honest", scope="module")
def _honest() -> Answer:
    return solve(BLOCKS, TARGETS, time_limit_ms=AMPLE_MS)


BLOCKS = make_blocks("1.01 2 3 4 5")
TARGETS = hours(1, 3, *make_targets("3.01 4.01 5"))

FALSE: dict[str, Callable[[ScarceBlock], ScarceBlock]] = {
    "more than its plan": lambda s: replace(s, stacks_with_one_more=4),
    "no more than now": lambda s: replace(s, stacks_with_one_more=2, plan=s.plan[:2]),
    "a bound below its plan": lambda s: replace(s, most_stacks_with_one_more=2),
    "a bound above all targets": lambda s: replace(s, most_stacks_with_one_more=4),
    "a block of nobody": lambda s: replace(s, like="x"),
    "another length": lambda s: replace(s, nominal=mm("2")),
    "another number": lambda s: replace(s, on_shelf=2),
    "a stack twice": lambda s: replace(s, plan=(*s.plan[:2], s.plan[0])),
    "a wrong stack": lambda s: replace(s, plan=(replace(s.plan[0], blocks=("b1",)), *s.plan[1:])),
    "a stack of unknown blocks": lambda s: replace(
        s, plan=(replace(s.plan[0], blocks=("x",)), *s.plan[1:])
    ),
    "nobody contends": lambda s: replace(s, contenders=()),
    "somebody else contends": lambda s: replace(
        s, contenders=(*s.contenders, StackName(target="t2"))
    ),
    "too few contend": lambda s: replace(s, contenders=s.contenders[:1]),
    "another time": lambda s: replace(s, contended_from=SHIFT),
    "a block used twice": lambda s: replace(
        s, like="b1", nominal=mm("2"), plan=s.plan, contenders=s.contenders
    ),
}


@pytest.mark.parametrize("mutate", FALSE.values(), ids=FALSE.keys())
def test_what_is_false_of_a_scarce_block_is_found(
    honest: Answer, mutate: Callable[[ScarceBlock], ScarceBlock]
) -> None:
    assert honest.shortage is not None
    assert verify(BLOCKS, TARGETS, honest) == ()
    (true,) = honest.shortage.scarce_blocks
    mutant = replace(honest, shortage=replace(honest.shortage, scarce_blocks=(mutate(true),)))

    assert {each.rule for each in verify(BLOCKS, TARGETS, mutant)} == {"scarce blocks"}
    assert all(each.claim for each in verify(BLOCKS, TARGETS, mutant))


def test_with_several_priorities_nothing_is_said() -> None:
    """A plan that serves the more urgent need not serve the most in all."""
    one, two = make_targets("3.01 4.01")

    assert (
        scarce(make_blocks("1.01 2 3"), (replace(one, priority=1), replace(two, priority=2))) == ()
    )
    assert scarce(make_blocks("1.01 2 3"), (replace(one, priority=1), replace(two, priority=1)))
