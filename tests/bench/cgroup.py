"""The memory that the kernel counts for a container, version 1 or 2 of its control groups.

Everything is counted: all processes, and the cache of files, which gives way when room is needed.
"""

from contextlib import suppress
from math import inf
from pathlib import Path
from typing import Final

from msgspec import Struct

_ROOT: Final = Path("/sys/fs/cgroup")
_MB: Final = 1_000_000


class Cgroup(Struct, frozen=True, kw_only=True):
    """Where a control group with a limit of memory tells what it counts."""

    limit: Path
    peak: Path
    events: Path
    """Has a line `oom_kill` with a number."""

    def limit_mb(self) -> float:
        """The limit; infinite where there is none."""
        text = self.limit.read_text(encoding="ascii").strip()
        return inf if text == "max" else int(text) / _MB

    def peak_mb(self) -> float:
        """Most that was held at one time, since the start or since it was set back."""
        return int(self.peak.read_text(encoding="ascii")) / _MB

    def set_back(self) -> None:
        """Let the peak begin anew; version 2 goes on from the old one."""
        with suppress(OSError):
            self.peak.write_text("0", encoding="ascii")

    def oom_kills(self) -> int:
        """How many of its processes the kernel has killed because the limit was reached."""
        words = self.events.read_text(encoding="ascii").split()
        return int(words[words.index("oom_kill") + 1])


def limited(pid: int, most_mb: float, proc: Path = Path("/proc"), root: Path = _ROOT) -> Cgroup:
    """The group that limits the process to that much; RuntimeError if nothing does."""
    place = _place(pid, proc, root)
    # Some engines put the process into a group below the one that has the limit.
    for group in map(_at, (place, *place.parents)):
        if group.limit.exists() and group.limit_mb() <= most_mb:
            return group
    raise RuntimeError(f"the engine did not limit the container to {most_mb:.0f} MB: {place}")


def _place(pid: int, proc: Path, root: Path) -> Path:
    lines = (proc / str(pid) / "cgroup").read_text(encoding="utf-8").splitlines()
    paths = {controllers: path for _, controllers, path in (line.split(":", 2) for line in lines)}
    # Both versions can be there; memory is then counted by version 1 if that has the controller.
    if "memory" in paths:
        return root / "memory" / paths["memory"].lstrip("/")
    return root / paths[""].lstrip("/")


def _at(path: Path) -> Cgroup:
    if (path / "memory.limit_in_bytes").exists():
        names = ("memory.limit_in_bytes", "memory.max_usage_in_bytes", "memory.oom_control")
    else:
        names = ("memory.max", "memory.peak", "memory.events")
    limit, peak, events = (path / name for name in names)
    return Cgroup(limit=limit, peak=peak, events=events)
