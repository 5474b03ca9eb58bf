"""Which targets are needed at one time, and requests where these are very many sets."""

from datetime import timedelta
from itertools import combinations

from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from solver.proofs.countdown import Countdown
from wrung import GaugeSet, LengthTarget, mm, solve
from wrung.deadline import Deadline
from wrung.order import Order
from wrung.planning.building.fine import each_step
from wrung.planning.building.proofs import Proofs
from wrung.planning.candidates.stock import by_nominal
from wrung.planning.candidates.workbench import set_up
from wrung.planning.independent import components
from wrung.planning.problem import Demand, Problem, build_problem, crowded, rivals
from wrung.targets import CheckPointsTarget, Target
from wrung.targets.requirement import Turn
from wrung.testing import SHIFT, make_blocks
from wrung.tuning import Tuning

SPANS = st.tuples(
    st.integers(0, 8),
    st.integers(1, 4),
    st.sampled_from((None, None, "a", "b")),
    st.integers(1, 3),
)


def problem_of(blocks: str, *targets: Target) -> Problem:
    return build_problem(
        Order(
            blocks=make_blocks(blocks),
            targets=targets,
            objective="fewest_blocks",
            joint_allowance=0,
        )
    )


def timed(start: int, length: int, ref: str = "t") -> LengthTarget:
    begin = SHIFT + timedelta(hours=start)
    return LengthTarget(
        ref=ref,
        length=mm("5"),
        needed_from=begin,
        needed_until=begin + timedelta(hours=length),
    )


def met(one: Demand, other: Demand) -> bool:
    """The rule itself: times that overlap, and no two steps of one sequence."""
    turns = one.requirement.turn, other.requirement.turn
    follows = None not in turns and turns[0] != turns[1]
    same = turns[0] is not None and turns[1] is not None and turns[0].of == turns[1].of
    return one.start < other.end and other.start < one.end and not (follows and same)


@settings(max_examples=300)
@given(st.lists(SPANS, min_size=1, max_size=8))
def test_pairs_cliques_and_parts_say_the_same(
    spans: list[tuple[int, int, str | None, int]],
) -> None:
    whole = problem_of(
        "5", *(timed(start, long, f"t{n}") for n, (start, long, _, _) in enumerate(spans))
    )
    demands = tuple(
        replace(
            demand,
            requirement=replace(demand.requirement, turn=of and Turn(of=of, step=(step,))),
        )
        for demand, (_, _, of, step) in zip(whole.demands, spans, strict=True)
    )
    problem = replace(whole, demands=demands)
    pairs = {(j, k) for j, k in combinations(range(len(demands)), 2) if met(demands[j], demands[k])}

    assert {pair for clique in problem.cliques for pair in combinations(clique, 2)} == pairs
    assert {(j, k) for k in range(len(demands)) for j in rivals(problem, k) if j < k} == pairs
    parts = [{k} for k in range(len(demands))]
    for pair in pairs:
        linked = [part for part in parts if part.intersection(pair)]
        parts = [part for part in parts if part not in linked] + [set[int]().union(*linked)]
    assert components(problem) == tuple(sorted(tuple(sorted(part)) for part in parts))


class TestManyCliques:
    """Sequences of check points beside others: each point of one with each of the others."""

    def sequences(self, count: int, points: int) -> list[Target]:
        return [
            CheckPointsTarget(ref=f"c{n}", points=tuple(mm(str(5 + n + k)) for k in range(points)))
            for n in range(count)
        ]

    def test_proofs_look_at_the_clock_for_each_of_them(self) -> None:
        problem = problem_of("1.001 5 6 7", *self.sequences(2, 6), timed(0, 9))
        sizes, ample = problem.sizes, Countdown(1_000)

        assert len(problem.cliques) == 36
        assert Proofs(problem).served_at_most(sizes, ample) < sizes
        assert 1_000 - ample.looks_left > len(problem.cliques)
        assert Proofs(problem).served_at_most(sizes, Countdown(0)) == sizes
        assert not Proofs(problem).conflict(range(3), Countdown(0))

    def test_what_there_is_no_time_to_pack_counts_as_packed(self) -> None:
        """Of three lengths that all need the one fine block, one can be built."""
        lengths = [replace(timed(0, 9, at), length=mm(at)) for at in ("3.001", "4.001", "5.001")]
        (fine, *_) = each_step(problem_of("1.001 1 2 3 4", *lengths))

        assert fine.packed(range(3), Deadline(60_000)) == 1
        assert [fine.packed(range(3), Countdown(looks)) for looks in range(4)] == [3, 3, 2, 1]

    def test_with_too_many_of_them_none_is_made(self) -> None:
        """Two sequences of six points beside a length, on a shelf for few of them."""
        problem = problem_of("1.001 5 6 7", *self.sequences(2, 6), timed(0, 9))
        fewer, enough = Tuning(most_cliques=35), Tuning(most_cliques=36)

        assert [crowded(problem, tuning) for tuning in (fewer, enough)] == [True, False]
        made = [
            set_up(problem, by_nominal(problem), Deadline(60_000, tuning=tuning)) is not None
            for tuning in (fewer, enough)
        ]
        assert made == [False, True]
        proofs = Proofs(problem)
        assert proofs.conflict(range(13), Deadline(60_000))
        assert not proofs.conflict(range(13), Deadline(60_000, tuning=fewer))

    def test_a_first_plan_does_without_them(self) -> None:
        """A thousand sets of ninety stacks took seconds, whatever the limit."""
        lengths = [LengthTarget(ref=f"t{k}", length=mm("7") + k * mm("0.005")) for k in range(90)]
        blocks = GaugeSet(id="m", composition="metric-112-1", grade="1").blocks()
        targets = [*lengths, *self.sequences(3, 10)]

        answer = solve(blocks, targets, time_limit_ms=200)

        assert answer.stacks
