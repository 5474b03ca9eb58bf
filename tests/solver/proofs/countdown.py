"""A deadline that passes after so many looks at the clock: the same on every machine."""

from wrung.deadline import Cancel, Deadline
from wrung.memory import Memory
from wrung.tuning import TUNING, Tuning

AMPLE_S = 60.0


class _Looks:
    """How many looks are left, for a deadline and all its shares."""

    def __init__(self, left: int) -> None:
        self.left = left


class Countdown(Deadline):
    """Time until it was looked at so often, and none from then on.

    Every look finds ``each_s`` seconds left; less than ample, they end what looks no more often.
    """

    def __init__(
        self,
        looks: int | _Looks,
        cancel: Cancel | None = None,
        memory: Memory | None = None,
        tuning: Tuning = TUNING,
        *,
        each_s: float = AMPLE_S,
    ) -> None:
        super().__init__(each_s * 1000, cancel, memory, tuning)
        self._looks = looks if isinstance(looks, _Looks) else _Looks(looks)
        self._each_s = each_s

    @property
    def looks_left(self) -> int:
        """Until it passes."""
        return self._looks.left

    @property
    def remaining(self) -> float:
        """Seconds left; each look takes one away from those that there are."""
        if self.cancel.cancelled or not self._looks.left:
            return 0.0
        self._looks.left -= 1
        return self._each_s

    def share(self, fraction: float, most_ms: float = float("inf")) -> "Countdown":
        """A deadline with the same looks left."""
        del fraction, most_ms
        return Countdown(self._looks, self.cancel, self.memory, self.tuning, each_s=self._each_s)
