"""Of plans that are equally good, the preferences choose, one after another, each proven."""

import os
from collections import Counter
from collections.abc import Sequence
from datetime import timedelta
from itertools import pairwise
from typing import Final

import pytest
from hypothesis import event, given, settings
from hypothesis import strategies as st
from msgspec import Struct
from msgspec.structs import replace

from solver import oracle
from solver.test_succession import in_turn
from wrung import (
    Answer,
    Block,
    GaugeSet,
    InputError,
    LengthTarget,
    Objective,
    Preference,
    PreferenceResult,
    StackName,
    mm,
    solve,
    trade_off,
    um,
    verify,
    without_claims,
)
from wrung.deadline import Deadline
from wrung.options import Options
from wrung.order import Order
from wrung.planning.execution import answered
from wrung.preferences import best_of_their_length
from wrung.targets import CheckPointsTarget, Target
from wrung.testing import SHIFT, length_targets, make_blocks, make_targets, shelves
from wrung.tuning import Tuning

CASES: Final = int(os.environ.get("WRUNG_PREFERENCE_CASES", "120"))
AMPLE_MS: Final = 60_000
SPREAD: Final = Preference(goal="spread_wear")
SPARE: Final = Preference(goal="spare_best")
SETS: Final = ("A", "B")


class Asked(Struct, frozen=True, kw_only=True):
    """A request with preferences."""

    blocks: tuple[Block, ...]
    targets: tuple[Target, ...]
    options: Options

    @property
    def preferences(self) -> Sequence[Preference]:
        return self.options.get("preferences", ())


@st.composite
def asked(draw: st.DrawFn) -> Asked:
    """Few lengths, each in several blocks that differ in wear, set and grade, or only in name."""
    lengths = draw(shelves(max_blocks=4))
    more = draw(st.lists(st.sampled_from(lengths), max_size=4))
    blocks = tuple(
        replace(
            block,
            id=f"p{place}",
            uses=draw(st.sampled_from((0, 0, 1, 2, 3, 10))),
            set=SETS[place] if place < 2 else draw(st.sampled_from((*SETS, None))),
            grade=draw(st.sampled_from((block.grade, "K", "AS-1", "AS-2"))),
            # A step block has no two steps of one length.
            body=block.body if place < len(lengths) else None,
        )
        for place, block in enumerate((*lengths, *more, lengths[0]))
    )
    count = draw(st.integers(1, 3))
    targets = tuple(draw(length_targets(blocks, ref=f"t{k}")) for k in range(count))
    turned = draw(st.integers(0, count))
    turns = (in_turn(targets[:turned], "s", same_time=True),) if turned > 1 else targets[:turned]
    every = (SPREAD, SPARE, *(Preference(goal="prefer_set", set=name) for name in SETS))
    wanted = draw(st.lists(st.sampled_from(every), min_size=1, max_size=3, unique=True))
    options = Options(
        objective=draw(st.sampled_from(("fewest_blocks", "least_error"))),
        joint_allowance=draw(st.sampled_from((0, um("0.1")))),
        preferences=tuple(wanted),
    )
    return Asked(blocks=blocks, targets=(*turns, *targets[turned:]), options=options)


def least(request: Asked, served: Sequence[StackName]) -> tuple[int, ...]:
    return oracle.least_preferred(
        request.blocks,
        [each for target in request.targets for each in target.requirements()],
        served,
        request.preferences,
        objective=request.options.get("objective", "fewest_blocks"),
        joint_allowance=request.options.get("joint_allowance", 0),
    )


@settings(max_examples=CASES)
@given(asked())
def test_no_plan_that_is_as_good_is_preferred(request: Asked) -> None:
    """Against the exhaustive search, goal by goal; and the checker confirms what is said."""
    answer = solve(request.blocks, request.targets, **request.options, time_limit_ms=AMPLE_MS)
    names = [stack.name for stack in answer.stacks]

    assert answer.objective_proven
    assert verify(request.blocks, request.targets, answer, **request.options) == ()
    assert all(each.proven for each in answer.preferences)
    assert tuple(each.value for each in answer.preferences) == least(request, names)
    event(f"{len(names)} stacks")
    event(f"changes: {answer.changes is not None}")


@settings(max_examples=CASES // 2)
@given(asked(), st.sampled_from((Tuning(most_cells=0), Tuning(most_joint=0))))
def test_other_ways_claim_nothing_false(request: Asked, tuning: Tuning) -> None:
    """Over single blocks, where tables cannot be made; and the pieces of given stacks alone."""
    until = Deadline(AMPLE_MS, tuning=tuning)
    order = Order(blocks=request.blocks, targets=request.targets, **request.options)
    answer = answered(order, until, until)
    best = least(request, [stack.name for stack in answer.stacks])

    assert verify(request.blocks, request.targets, answer, **request.options) == ()
    if tuning.most_cells == 0:
        assert tuple(each.value for each in answer.preferences) == best
    for each, value in zip(answer.preferences, best, strict=True):
        assert each.lower_bound <= value <= each.value
        # A bound is about plans that are as good by the preferences before.
        if each.value > value:
            break


def two_sets(*, grade: str = "1", uses: int = 5) -> tuple[Block, ...]:
    """Set A of grade 1, each block used five times, and set B, which has the same lengths."""
    first = GaugeSet(id="A", composition="metric-87-a", grade="1", uses=5)
    second = GaugeSet(id="B", composition="metric-87-a", grade=grade, uses=uses)
    return (*first.blocks(), *second.blocks())


def solved(blocks: Sequence[Block], targets: Sequence[Target], *preferences: Preference) -> Answer:
    answer = solve(blocks, targets, preferences=preferences)
    assert verify(blocks, targets, answer, preferences=preferences) == ()
    return answer


def used(answer: Answer) -> Counter[str]:
    return Counter(block.id for stack in answer.stacks for block in stack.blocks)


def one_after_another(count: int) -> tuple[LengthTarget, ...]:
    """The same length, again and again, an hour each."""
    hours = [SHIFT + timedelta(hours=hour) for hour in range(count + 1)]
    return tuple(
        LengthTarget(ref=f"t{k}", length=mm("1.01"), needed_from=start, needed_until=end)
        for k, (start, end) in enumerate(pairwise(hours))
    )


def test_the_block_that_was_used_least_is_taken() -> None:
    blocks = two_sets(uses=4)

    answer = solved(blocks, make_targets("31.25"), SPREAD)

    assert {name[0] for name in used(answer)} == {"B"}
    assert answer.preferences == (
        PreferenceResult(goal="spread_wear", value=2 * 4, lower_bound=2 * 4),
    )


def test_wear_is_spread_over_alike_blocks_without_any_counter() -> None:
    """Six uses of two new blocks: three each, and readings of 0, 1 and 2 twice."""
    blocks = make_blocks("1.01 1.01 5")

    answer = solved(blocks, one_after_another(6), SPREAD)

    assert sorted(used(answer).values()) == [3, 3]
    assert [(each.value, each.proven) for each in answer.preferences] == [(6, True)]


def test_the_worn_block_rests_until_the_other_has_caught_up() -> None:
    fresh, worn = make_blocks("1.01 1.01")

    answer = solved((fresh, replace(worn, uses=4)), one_after_another(5), SPREAD)

    # 0, 1, 2, 3 and then 4 of either.
    assert answer.preferences[0].value == 10
    assert used(answer)[fresh.id] >= 4


def test_fewest_changes_go_before_any_preference() -> None:
    target = CheckPointsTarget(ref="m", series="metric-0.5")
    blocks = two_sets(uses=0)
    without = solve(blocks, [target])

    answer = solved(blocks, [target], SPREAD)

    assert answer.changes == without.changes
    assert answer.preferences[0].value < solved_value(blocks, without)


def solved_value(blocks: Sequence[Block], answer: Answer) -> int:
    """The readings, counted stack by stack."""
    counters = {block.id: block.uses for block in blocks}
    total = 0
    for stack in answer.stacks:
        for placed in stack.blocks:
            total += counters[placed.id]
            counters[placed.id] += 1
    return total


def test_grade_k_is_spared_though_its_limits_are_those_of_grade_1() -> None:
    """ISO 3650 gives both the same limits of length (see the grade tables), not of variation."""
    answer = solved(two_sets(grade="K"), make_targets("31.25 45.5"), SPARE)

    assert {name[0] for name in used(answer)} == {"A"}
    assert answer.preferences == (PreferenceResult(goal="spare_best", value=0, lower_bound=0),)


def test_what_is_there_once_or_equally_good_is_not_spared() -> None:
    alike = make_blocks("1.01 1.01 5")
    better = replace(alike[1], limit_deviation=um("0.1"))

    assert best_of_their_length(alike) == frozenset()
    assert best_of_their_length((alike[0], better, alike[2])) == {better.id}


def test_a_block_of_a_better_grade_is_worth_sparing_whatever_its_certificate_says() -> None:
    plain = Block(id="1", nominal=mm("5"), deviation=0, expanded_uncertainty=um("0.05"), grade="1")
    best = replace(plain, id="K", grade="K", expanded_uncertainty=um("0.08"))
    without = replace(plain, id="?", grade=None, expanded_uncertainty=um("0.09"))

    assert best_of_their_length((plain, best)) == {"K"}
    assert best_of_their_length((best, without)) == {"K"}
    assert best_of_their_length((replace(plain, grade="of old"), without)) == {"1"}


def test_blocks_of_the_preferred_set_are_taken_and_others_only_where_needed() -> None:
    answer = solved(two_sets(), make_targets("31.25 51.25"), Preference(goal="prefer_set", set="B"))

    others = sum(count for name, count in used(answer).items() if name.startswith("A/"))
    assert [(each.value, each.proven) for each in answer.preferences] == [(others, True)]
    # Both need 1.25, and there are two.
    assert others == 1


def test_the_order_of_preferences_decides() -> None:
    """Set B is worn; which counts first?"""
    blocks, wanted = two_sets(uses=9), make_targets("31.25")
    prefer = Preference(goal="prefer_set", set="B")

    spread_first = solved(blocks, wanted, SPREAD, prefer)
    set_first = solved(blocks, wanted, prefer, SPREAD)

    assert [each.value for each in spread_first.preferences] == [10, 2]
    assert [each.value for each in set_first.preferences] == [0, 18]
    assert all(each.proven for each in (*spread_first.preferences, *set_first.preferences))


def test_nothing_is_given_up_for_a_preference() -> None:
    """The preferred set has the larger limits."""
    blocks, wanted = two_sets(grade="2"), make_targets("31.25")
    plain = solve(blocks, wanted)

    answer = solved(blocks, wanted, Preference(goal="prefer_set", set="B"))

    assert answer.largest_worst_case_error == plain.largest_worst_case_error
    assert (answer.preferences[0].value, answer.preferences[0].lower_bound) == (2, 2)


def test_without_time_nothing_is_claimed() -> None:
    blocks, wanted = two_sets(uses=1), make_targets("31.25 45.5 12.345 17.005")

    answer = solve(blocks, wanted, preferences=[SPREAD], time_limit_ms=0.01)

    assert verify(blocks, wanted, answer, preferences=[SPREAD]) == ()
    for each in answer.preferences:
        assert each.lower_bound == 0
    bare = without_claims(solve(blocks, wanted, preferences=[SPREAD]))
    assert [each.lower_bound for each in bare.preferences] == [0]


@pytest.mark.parametrize(
    ("preferences", "pointer"),
    [
        ([Preference(goal="prefer_set", set="C")], "/preferences/0/set"),
        ([Preference(goal="prefer_set")], "/preferences/0/set"),
        ([Preference(goal="spread_wear", set="A")], "/preferences/0/set"),
        ([SPREAD, SPARE, SPREAD], "/preferences/2"),
    ],
)
def test_preferences_that_mean_nothing_are_refused(
    preferences: Sequence[Preference], pointer: str
) -> None:
    with pytest.raises(InputError) as caught:
        solve(two_sets(), make_targets("5"), preferences=preferences)

    assert [fault.pointer for fault in caught.value.faults] == [pointer]


def test_the_checker_finds_wrong_values_orders_and_bounds() -> None:
    blocks, wanted, asked = two_sets(), make_targets("31.25"), (SPREAD, SPARE)
    answer = solve(blocks, wanted, preferences=asked)
    first, second = answer.preferences
    wrong: dict[str, list[tuple[PreferenceResult, ...]]] = {
        "preferences": [
            (second, first),
            (first,),
            (replace(first, value=first.value - 1, lower_bound=0), second),
        ],
        "preference bounds": [(replace(first, lower_bound=first.value + 1), second)],
    }

    for rule, cases in wrong.items():
        for said in cases:
            told = replace(answer, preferences=said)
            breaches = verify(blocks, wanted, told, preferences=asked)
            assert [each.rule for each in breaches] == [rule]


@pytest.mark.parametrize("objective", ["fewest_blocks", "least_error"])
@pytest.mark.parametrize("asked_for", [SPREAD, Preference(goal="prefer_set", set="B")])
def test_every_plan_of_a_trade_off_is_preferred(
    objective: Objective, asked_for: Preference
) -> None:
    """One block of wide limits or two of narrow ones, in a worn set and in a new one."""
    wide, narrow = (
        make_blocks("10 20", limit_deviation="1"),
        make_blocks("4 6 8 12", limit_deviation="0.1"),
    )
    blocks = [
        replace(block, id=f"{name}-{block.nominal}", set=name, uses=uses)
        for name, uses in (("A", 9), ("B", 0))
        for block in (*wide, *narrow)
    ]
    options = Options(objective=objective, preferences=(asked_for,))
    targets = make_targets("10 20")

    found = trade_off(blocks, targets, solve(blocks, targets, **options), **options)

    assert found.complete
    assert [point.total_blocks for point in found.points] == [2, 4]
    assert all(
        block.id.startswith("B")
        for point in found.points
        for stack in point.stacks
        for block in stack.blocks
    )
