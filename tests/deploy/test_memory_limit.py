"""What is published of memory is one figure: in the README, in the compose file, in the bench."""

import re
from pathlib import Path

from bench.memory import BASE_MB, published_mb
from wrung.memory import DEFAULT_MEMORY_MB

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
COMPOSE = (ROOT / "deploy" / "compose.yaml").read_text(encoding="utf-8")


def found(pattern: str, text: str) -> int:
    match = re.search(pattern, text)
    assert match, pattern
    return int(match[1])


def test_the_compose_file_gives_what_is_published() -> None:
    workers = found(r'WRUNG_SOLVE_WORKERS: "(\d+)"', COMPOSE)

    assert found(r"memory: (\d+)M", COMPOSE) == published_mb(workers)
    assert found(r'cpus: "(\d+)\.0"', COMPOSE) == workers


def test_the_readme_says_the_same() -> None:
    assert found(r"Give the service (\d+) MB", README) == BASE_MB
    assert found(r"and (\d+) MB for each solve worker", README) == DEFAULT_MEMORY_MB
    assert found(r"(\d+) MB for two", README) == published_mb(2)
    assert found(r"two workers need (\d+) MB", README) == BASE_MB + 2 * 150
