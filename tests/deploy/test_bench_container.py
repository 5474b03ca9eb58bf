"""The bench in a container: what it says where there is none, and whose memory it reads."""

from pathlib import Path

import pytest

from bench.cgroup import limited
from bench.container import engine

LIMIT = 988_000_000


def group(path: Path, **files: object) -> None:
    path.mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        (path / f"memory.{name}").write_text(f"{text}\n", encoding="ascii")


def process(proc: Path, *lines: str) -> None:
    (proc / "7").mkdir(parents=True)
    (proc / "7" / "cgroup").write_text("".join(f"{line}\n" for line in lines), encoding="ascii")


def test_a_missing_engine_is_said_in_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", "")

    with pytest.raises(SystemExit, match="neither podman nor docker runs here"):
        engine()


def test_version_1_counts_memory_in_a_tree_of_its_own(tmp_path: Path) -> None:
    process(tmp_path, "4:memory:/box/1", "1:cpu:/other", "0::/")
    events = "oom_kill_disable 0\nunder_oom 0\noom_kill 2"
    files = {"limit_in_bytes": LIMIT, "max_usage_in_bytes": 700_000_000, "oom_control": events}
    group(tmp_path / "memory" / "box" / "1", **files)

    found = limited(7, 988, proc=tmp_path, root=tmp_path)

    assert (found.peak_mb(), found.oom_kills()) == (700, 2)
    found.set_back()
    assert found.peak_mb() == 0


def test_version_2_may_have_its_limit_above_the_group_of_the_process(tmp_path: Path) -> None:
    process(tmp_path, "0::/box.scope/inner")
    group(tmp_path / "box.scope", max=LIMIT, peak=650_000_000, events="max 3\noom 1\noom_kill 1")
    group(tmp_path / "box.scope" / "inner", max="max", peak=1, events="oom_kill 0")

    found = limited(7, 988, proc=tmp_path, root=tmp_path)

    assert (found.peak_mb(), found.oom_kills()) == (650, 1)


@pytest.mark.parametrize("limit", ["max", LIMIT + 1_000_000])
def test_a_container_without_its_limit_is_refused(tmp_path: Path, limit: object) -> None:
    process(tmp_path, "0::/box.scope")
    group(tmp_path / "box.scope", max=limit, peak=1, events="oom_kill 0")

    with pytest.raises(RuntimeError, match="did not limit the container to 988 MB"):
        limited(7, 988, proc=tmp_path, root=tmp_path)
