"""Many stacks over a day, which contend for a few fine blocks."""

from datetime import timedelta

from wrung import LengthTarget, mm
from wrung.deadline import Deadline
from wrung.order import Order
from wrung.planning.assignment import hand_out
from wrung.planning.finding import totals
from wrung.planning.objectives.serving import bench_for_serving, block_question, own_caps
from wrung.planning.objectives.stages import completed
from wrung.planning.problem import build_problem
from wrung.planning.selection.scarcity import pack, pack_starts
from wrung.testing import SHIFT, make_blocks


def ample() -> Deadline:
    return Deadline(60_000)


def test_starts_that_serve_the_most_begin_a_plan() -> None:
    """Over a day, with nine blocks for thousandths: the proof itself shows what to build."""
    nominals = [*(1000 + n for n in range(1, 10)), *(1000 + 10 * n for n in range(1, 50))]
    lengths = [2001 + 1371 * n % 9000 for n in range(24)]
    targets = [
        LengthTarget(
            ref=f"t{n}",
            length=mm(f"{length / 1000:.3f}"),
            needed_from=SHIFT + timedelta(hours=n // 3),
            needed_until=SHIFT + timedelta(hours=n // 3 + 4),
        )
        for n, length in enumerate(lengths)
    ]
    blocks = make_blocks(" ".join(f"{n / 1000:.3f}" for n in [*nominals, *range(500, 10001, 500)]))
    problem = build_problem(
        Order(blocks=blocks, targets=targets, objective="fewest_blocks", joint_allowance=0)
    )
    bench = bench_for_serving(problem, ample())
    assert bench is not None
    assert bench.spelt_out

    most, starts = pack_starts(bench, own_caps(bench), ample())
    question = block_question(bench, most)
    found = completed(question, starts, ample())

    assert most == pack(bench, own_caps(bench), ample())
    assert most < (len(targets),)
    assert bench.counts(found.chosen.demands) == most
    assert totals(problem, hand_out(bench, found.chosen)).served == most
