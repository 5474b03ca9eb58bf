"""A ratio that a stack must keep, or it is not planned at all."""

from fractions import Fraction

from wrung.stack_names import Named


class RequiredRatio(Named, frozen=True, kw_only=True):
    """How much better than a tolerance the stack must be, by the measure that plans are made by.

    Attributes:
        target: ref of the target.
        role: which of its stacks, where it has several.
        width: of the tolerance, upper less lower limit, quanta.
        ratio: smallest allowed test uncertainty ratio, the error by the measure in place of the
            expanded uncertainty; for variances that itself, with a coverage factor that no stack
            of the blocks exceeds.
    """

    width: int
    ratio: Fraction
