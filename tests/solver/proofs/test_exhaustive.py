"""The search that tries everything but what is plainly no better, held to one that tries all."""

from hypothesis import given

from solver.oracle import best
from solver.proofs.exhaustive import Question, try_everything
from wrung.testing import Request, requests


@given(requests(max_blocks=7))
def test_what_is_left_out_was_no_better(request: Request) -> None:
    wanted = [each for target in request.targets for each in target.requirements()]
    question = Question(
        blocks=request.blocks,
        objective=request.objective,
        joint_allowance=request.joint_allowance,
        most_errors={},
    )
    found = try_everything(question, wanted)
    plain = best(
        request.blocks,
        wanted,
        objective=request.objective,
        joint_allowance=request.joint_allowance,
    )

    assert found.by_priority == plain.by_priority
    assert (found.served, found.total_blocks) == (plain.served, plain.total_blocks)
    assert (found.largest_error, found.total_error) == (plain.largest_error, plain.total_error)
