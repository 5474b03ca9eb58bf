"""What is asked: plans that serve so many demands, within caps, at least cost by a goal."""

from msgspec import Struct
from msgspec.structs import replace

from wrung.planning.candidates.goals import Goal
from wrung.planning.candidates.quota import Quota
from wrung.planning.candidates.search import Cap, Search
from wrung.planning.candidates.stock import Ints
from wrung.planning.candidates.walk import Candidates
from wrung.planning.candidates.workbench import Prices, Workbench
from wrung.planning.selection.choice import Choice


class Question(Struct, frozen=True, kw_only=True):
    """Plans for a workbench that serve so many demands of each class, within caps, by a goal.

    Attributes:
        window: how far above its bound a least cost is likely to lie.
        grain: all costs are multiples of it.
        first_look: whether little is tried: other ways have most of the time.
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
    first_look: bool = False
    quick: bool = False
    blocks: int | None = None
    fewest: bool = False

    @property
    def slack(self) -> int:
        """How near to the programme a bound is raised."""
        return max(self.grain // self.bench.deadline.tuning.parts_of_grain, 1)

    def up(self, bound: int) -> int:
        """The bound raised to the next cost that a plan may have."""
        return -(-bound // self.grain) * self.grain

    def beginning(self, rows: Ints) -> "Question":
        """The same with some of the starts."""
        caps = tuple(cap.where(rows) for cap in self.caps)
        return replace(
            self, bench=self.bench.beginning(rows), goal=self.goal.where(rows), caps=caps
        )

    def search(self, prices: Prices | None = None) -> Search:
        """For candidates within the caps."""
        return Search(self.bench, self.goal, self.caps, prices)

    def choice(self, offered: Candidates) -> Choice:
        """Among these candidates, for a plan that serves as many and has as many blocks."""
        choice = Choice(self.bench, offered, self.served)
        if self.blocks is not None:
            choice.limit_sum(offered.counts, self.blocks)
        return choice
