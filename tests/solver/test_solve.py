"""The main job as a whole, held to the exhaustive search."""

from hypothesis import given

from solver.oracle import best
from solver.untimed import untimed
from wrung import Answer, Block, solve, verify
from wrung.testing import Request, requests


def run(request: Request) -> Answer:
    """Solve with time to spare, so that only the problem decides the outcome."""
    return solve(
        request.blocks,
        request.targets,
        objective=request.objective,
        joint_allowance=request.joint_allowance,
        exclude=request.exclude,
        only=request.only,
        time_limit_ms=60_000,
    )


def usable(request: Request) -> list[Block]:
    """The blocks that the request leaves in."""
    return [
        block
        for block in request.blocks
        if block.id not in request.exclude and (request.only is None or block.id in request.only)
    ]


@given(requests())
def test_solve_serves_as_many_and_as_well_as_an_exhaustive_search(request: Request) -> None:
    """Both find the same number of stacks and the same values of the objective."""
    answer = run(request)
    wanted = best(
        usable(request),
        [r for target in request.targets for r in target.requirements()],
        objective=request.objective,
        joint_allowance=request.joint_allowance,
    )

    assert (
        len(answer.stacks),
        answer.total_blocks,
        answer.largest_worst_case_error,
        answer.total_worst_case_error,
    ) == (wanted.served, wanted.total_blocks, wanted.largest_error, wanted.total_error)


@given(requests())
def test_every_answer_holds_and_is_proven(request: Request) -> None:
    """The checker finds no breach, and with time to spare everything is proven."""
    answer = run(request)

    breaches = verify(
        request.blocks,
        request.targets,
        answer,
        objective=request.objective,
        joint_allowance=request.joint_allowance,
        exclude=request.exclude,
        only=request.only,
    )

    assert breaches == ()
    assert answer.outcome in {"optimal", "partial", "infeasible"}
    assert answer.proven
    assert answer.objective_proven
    assert (answer.shortage is None) == (not answer.unmet)


@given(requests())
def test_the_same_request_gets_the_same_answer(request: Request) -> None:
    """Everything but the time taken is the same."""
    assert untimed(run(request)) == untimed(run(request))
