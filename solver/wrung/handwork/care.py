"""Care that blocks of length and angle blocks are given alike."""

from collections.abc import Iterator

from wrung.handwork.step import Step, step


def prepared(*, steel: bool, brittle: bool) -> Iterator[Step]:
    """From the case to clean faces: what is done before blocks are wrung.

    Args:
        steel: whether any of the blocks is of steel.
        brittle: whether any of them chips when it falls.
    """
    yield step("clean", "step.clean" if steel else "step.clean_uncoated")
    yield step("inspect", "step.inspect")
    if steel:
        yield step("inspect", "step.demagnetise")
        yield step("inspect", "step.stone")
    if brittle:
        yield step("inspect", "step.chipped")
    yield step("clean", "step.clean_again")
    yield step("clean", "step.brush")


def put_back(*, wrung: bool) -> Iterator[Step]:
    """From the work back to clean blocks, each by itself."""
    if wrung:
        yield step("unwring", "step.apart")
    yield step("clean", "step.clean_after")
