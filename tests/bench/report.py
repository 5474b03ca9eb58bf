"""The figures as a table."""

from collections import Counter
from collections.abc import Sequence
from statistics import median
from typing import Final

from msgspec import Struct

from .load import Load


class Sample(Struct, frozen=True, kw_only=True):
    """One request: how long it took, and what came out; ``proven`` if nothing is left open."""

    ms: float
    outcome: str
    proven: bool


class Turn(Struct, frozen=True, kw_only=True):
    """A server under load for a while, and the CPU time that it took."""

    load: Load
    cpu_seconds: float

    @property
    def cpu_ms(self) -> float:
        """CPU time of a request, ms."""
        return 1000 * self.cpu_seconds / self.load.requests


class FamilyFigures(Struct, frozen=True, kw_only=True):
    """Everything measured with the requests of a family."""

    name: str
    library: Sequence[Sample]
    http: Sequence[Sample]
    noop: Sequence[Sample]


HEAD: Final = (
    f"{'':18} {'':3} {'library, ms':>17} {'HTTP, ms':>17} {'no-op, ms':>17}\n"
    f"{'family':18} {'n':>3} {'median':>8} {'worst':>8} {'median':>8} {'worst':>8}"
    f" {'median':>8} {'worst':>8}  proven  outcomes"
)


def line(figures: FamilyFigures) -> str:
    """A family's line under `HEAD`; outcomes over HTTP stand apart where they differ."""
    times = " ".join(_times(s) for s in (figures.library, figures.http, figures.noop))
    library, http = _outcomes(figures.library), _outcomes(figures.http)
    outcomes = library if library == http else f"{library}; over HTTP {http}"
    count = len(figures.library)
    proven = f"{sum(sample.proven for sample in figures.library)}/{count}"
    return f"{figures.name:18} {count:3} {times} {proven:>7}  {outcomes}"


def load_line(name: str, clients: int, turns: Sequence[tuple[Turn, Turn]]) -> str:
    """Throughput and CPU time beside those of the no-op, and the ratio: medians over the turns."""
    service, noop = zip(*turns, strict=True)
    refused = sum(turn.load.refused for turn in service)
    refusals = f", {refused} refused" if refused else ""
    ratios = sorted(one.load.per_second / other.load.per_second for one, other in turns)
    return (
        f"{name}: {_speed(service)} with {clients} clients{refusals};"
        f" no-op {_speed(noop)}; ratio {median(ratios):.2f} ({ratios[0]:.2f} to {ratios[-1]:.2f})"
    )


def _speed(turns: Sequence[Turn]) -> str:
    per_second = median(turn.load.per_second for turn in turns)
    return f"{per_second:.0f} requests/s at {median(turn.cpu_ms for turn in turns):.2f} ms of CPU"


def median_ms(samples: Sequence[Sample]) -> float:
    """The median time."""
    return median(sample.ms for sample in samples)


def _times(samples: Sequence[Sample]) -> str:
    return f"{median_ms(samples):8.1f} {max(sample.ms for sample in samples):8.1f}"


def _outcomes(samples: Sequence[Sample]) -> str:
    counts = Counter(sample.outcome for sample in samples)
    return ", ".join(f"{count} {outcome}" for outcome, count in counts.most_common())
