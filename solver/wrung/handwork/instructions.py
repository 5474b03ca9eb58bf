"""The instructions that go with a stack: what to do, and what to beware of in this very use."""

from collections.abc import Iterable, Iterator, Sequence

from wrung.blocks import LONG
from wrung.checked_types import typed
from wrung.handwork.afterwards import afterwards
from wrung.handwork.before import before
from wrung.handwork.materials import any_brittle
from wrung.handwork.step import Step
from wrung.handwork.work import Work
from wrung.handwork.wringing import wringing
from wrung.stack_names import Named
from wrung.texts import Phrase, phrase


class Instructions(Named, frozen=True, kw_only=True):
    """What goes with a stack to the bench.

    Attributes:
        target: ref of the target.
        role: the part that the stack plays in it.
        cautions: what to beware of, the use's own first. Of stacks that follow one another only
            the first has them.
        steps: what to do, in order.
        waiting_minutes: how long blocks and stack lie until they have the temperature, in all; a
            rule of thumb. It is 0 for a stack that follows another, as its blocks lay with it.
    """

    cautions: tuple[Phrase, ...]
    steps: tuple[Step, ...]
    waiting_minutes: int


@typed
def instructions(work: Work, *, cautions: Sequence[str] = (), stands: bool = False) -> Instructions:
    """The instructions for one stack.

    Args:
        work: the stack, and where it stands among others.
        cautions: keys of the cautions that belong to the use, such as a target's ``cautions``.
        stands: whether the stack stands upright in use.
    """
    found = steps(work)
    given = () if work.series.previous else tuple(_cautions(work, cautions, stands=stands))
    return Instructions(
        target=work.stack.target,
        role=work.stack.role,
        # A use may name a caution that holds for every stack anyway: it is given once.
        cautions=tuple(map(phrase, dict.fromkeys(given))),
        steps=found,
        waiting_minutes=waiting(found),
    )


def steps(work: Work) -> tuple[Step, ...]:
    """All that is done with the hands for a stack, from the case and back to it, in order."""
    return (*before(work), *wringing(work), *afterwards(work))


@typed
def waiting(found: Iterable[Step]) -> int:
    """The minutes that steps take to lie and wait, in all."""
    return sum(step.minutes for step in found)


def _cautions(work: Work, own: Sequence[str], *, stands: bool) -> Iterator[str]:
    yield from own
    yield "caution.solvent"
    blocks = work.series.blocks
    if any_brittle(work.known(blocks)):
        yield "caution.brittle"
    if work.long or any(block.nominal > LONG for block in blocks):
        yield "caution.heavy"
        if not stands:
            yield "caution.airy"
    yield "caution.calibration"
