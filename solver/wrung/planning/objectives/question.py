"""What is asked of a stage, and its outcome."""

from typing import Literal, TypeAlias

from msgspec import Struct

from wrung.planning.candidates.goals import Goal
from wrung.planning.candidates.quota import Quota
from wrung.planning.candidates.search import Cap
from wrung.planning.candidates.walk import Candidates
from wrung.planning.candidates.workbench import Workbench
from wrung.planning.pricing.prices import Priced

End: TypeAlias = Literal["settled", "impossible", "open"]


class Question(Struct, frozen=True, kw_only=True):
    """Plans for a workbench that serve so many demands of each class, within caps, by a goal.

    Attributes:
        window: how far above its bound a least cost is likely to lie.
        grain: all costs are multiples of it.
        most_offered: candidates that one choice is made from; more are left to other engines.
        quick: whether a choice that is not made quickly is left open.
        blocks: where given, plans have that many blocks, and none that serves as many has fewer.
        fewest: whether, of the plans with the least sum, one with the fewest blocks is wanted.
    """

    bench: Workbench
    goal: Goal
    caps: tuple[Cap, ...]
    served: Quota
    window: int
    grain: int
    most_offered: int = 40_000
    quick: bool = False
    blocks: int | None = None
    fewest: bool = False


class Settled(Struct, frozen=True, kw_only=True):
    """The outcome of a stage.

    Attributes:
        end: ``settled`` the value is proven least; ``impossible`` no plan serves as many demands;
            ``open`` neither was shown.
        value: cost of the best plan seen, `NEVER` if none was.
        bound: no plan costs less.
        chosen: that plan; empty if none was seen.
        priced: the prices that proved it, if any did.
    """

    end: End
    value: int
    bound: int
    chosen: Candidates
    priced: Priced | None = None
