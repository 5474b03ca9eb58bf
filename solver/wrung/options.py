"""What a request asks for besides blocks and targets, for functions that pass it on."""

from collections.abc import Collection, Sequence
from typing import TypedDict

from wrung.answers import Objective
from wrung.metrology.error_measure import ErrorMeasure, RequiredRatio
from wrung.preferences import Preference


class Options(TypedDict, total=False):
    """Keyword arguments with the meaning and the defaults that they have in `wrung.solve`."""

    objective: Objective
    joint_allowance: int
    exclude: Collection[str]
    only: Collection[str] | None
    overdue: Collection[str]
    error_measure: ErrorMeasure
    required_ratios: Sequence[RequiredRatio]
    preferences: Sequence[Preference]
