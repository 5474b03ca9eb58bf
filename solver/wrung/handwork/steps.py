"""What is done with the hands for one stack, from the case and back to it."""

from wrung.handwork.afterwards import afterwards
from wrung.handwork.before import before
from wrung.handwork.step import Step
from wrung.handwork.work import Work
from wrung.handwork.wringing import wringing


def steps(work: Work) -> tuple[Step, ...]:
    """Everything that is done with the hands for a stack, in order."""
    return (*before(work), *wringing(work), *afterwards(work))
