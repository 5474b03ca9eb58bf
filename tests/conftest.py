"""Settings that all tests share."""

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis.internal.conjecture import providers

from ample_time import give_ample_time
from environment import set_up_environment
from stores import empty_url, postgres, sqlite_template, store, store_url

# Fixtures that are used by their names.
__all__ = ["empty_url", "postgres", "sqlite_template", "store", "store_url"]

# Timings belong into benchmarks: a slow machine must not turn a property into a failure.
# `HYPOTHESIS_PROFILE=long` tries more examples, and other ones in every run.
# Not "explain": it traces every line of every example, for a remark beside a failure.
PHASES = (Phase.explicit, Phase.reuse, Phase.generate, Phase.target, Phase.shrink)
usual = settings(
    phases=PHASES, deadline=None, suppress_health_check=[HealthCheck.too_slow], max_examples=100
)
settings.register_profile("quick", usual, derandomize=True)
settings.register_profile("long", usual, max_examples=2000)
PROFILE = os.environ.get("HYPOTHESIS_PROFILE", "quick")
settings.load_profile(PROFILE)
if PROFILE == "quick":
    # It also draws constants of the source that is loaded: each commit, and each share of the tests
    # that a process gets, would try other examples, and a rare fault would fail an innocent commit.
    setattr(providers, "is_local_module_file", lambda _: False)  # noqa: B010 - there is no setting

# Real browsers, servers and databases: where a machine stands still, one of them may not be ready.
# A second failure is a failure; the closing lines of the tests, and of CI, name what ran twice.
REAL_PROCESSES = {"browser", "clients", "e2e", "examples", "store"}

give_ample_time()
set_up_environment()


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Let tests with processes beside their own run once more if they fail."""
    for item in items:
        if item.path.parent.name in REAL_PROCESSES:
            item.add_marker(pytest.mark.flaky(reruns=1))


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Leave fuzzing by the document alone where only long tests run, of which it has none.

    Each process would make up all of its requests, for a minute of CPU time, to run none of them.
    """
    only_long = config.option.markexpr == "long"
    return True if only_long and collection_path.name == "test_fuzzing.py" else None
