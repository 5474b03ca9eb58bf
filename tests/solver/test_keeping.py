"""What is kept with a shelf is made once, is not kept for ever, and changes no answer."""

from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

import wrung
from solver.problems import problem_of
from solver.untimed import untimed
from wrung import Blocks
from wrung.keeping import Keeping, kept
from wrung.metrology import WORST_CASE, ErrorMeasure
from wrung.options import Options
from wrung.planning.candidates.stock import by_error
from wrung.testing import Request, make_blocks, make_targets, requests


def test_it_is_made_once_for_each_name() -> None:
    """And each time of what keeps nothing."""
    made: list[str] = []

    def make() -> int:
        made.append("again")
        return len(made)

    keeping = Keeping((1, 2))
    assert [keeping.kept(name, make) for name in "abab"] == [1, 2, 1, 2]
    assert [kept((1, 2), "a", make) for _ in range(2)] == [3, 4]
    assert keeping == (1, 2)


def test_what_was_not_used_for_long_is_made_again() -> None:
    keeping, made = Keeping[int](()), list[int]()
    for name in [0, 1, *range(2, 9), 0, 1]:
        keeping.kept(name, lambda: made.append(0))
        keeping.kept(0, lambda: made.append(0))
    # All nine names, and the 1 that eight others were used after.
    assert len(made) == 10


def test_what_is_known_of_a_part_of_the_shelf_is_kept_with_it() -> None:
    """And of the shelf with one more block."""
    blocks, targets = make_blocks("1 2 3"), tuple(make_targets("6"))
    problem = problem_of(Request(blocks=blocks, targets=targets))
    for pieces in (problem.pieces[:2], (*problem.pieces, problem.pieces[0])):
        part = replace(problem, pieces=pieces)
        assert part.pieces == pieces
        assert by_error(part) is by_error(replace(part, demands=()))
        assert by_error(part) is not by_error(problem)


@given(st.lists(requests(), min_size=2, max_size=2), st.data())
@settings(max_examples=8)
def test_answers_from_a_shelf_asked_before_are_those_from_a_new_one(
    asked: list[Request], data: st.DataObject
) -> None:
    """Whatever was asked of it before, with other options, and of some of its blocks."""
    shelf = Blocks(asked[0].blocks)
    ids = st.sets(st.sampled_from([block.id for block in shelf]), max_size=2).map(sorted)
    measures = st.sampled_from((WORST_CASE, ErrorMeasure(corrected=True)))
    for request in (asked[0], asked[1], asked[0]):
        options = Options(
            objective=request.objective,
            joint_allowance=request.joint_allowance,
            exclude=data.draw(ids),
            error_measure=data.draw(measures),
        )
        known = wrung.solve(shelf, request.targets, time_limit_ms=60_000, **options)
        anew = wrung.solve([*shelf], request.targets, time_limit_ms=60_000, **options)
        assert untimed(known) == untimed(anew)
        assert wrung.verify(shelf, request.targets, known, **options) == ()
