"""All replicas and workers go by one clock, whatever their machines' clocks say."""

from datetime import timedelta

import pytest

from wrung_service.store import engine
from wrung_service.store.engine import Store

_RIGHT = engine.machine_now


@pytest.mark.parametrize("wrong_by", [timedelta(hours=1), timedelta(days=-2)])
def test_a_machine_whose_clock_is_wrong_goes_by_that_of_the_database(
    store: Store, monkeypatch: pytest.MonkeyPatch, wrong_by: timedelta
) -> None:
    monkeypatch.setattr(engine, "machine_now", lambda: _RIGHT() + wrong_by)
    store.greet()
    wrong = store.now() - _RIGHT()
    # SQLite has no clock but that of the machine.
    expected = wrong_by if store.on_sqlite else timedelta(0)
    assert abs(wrong - expected) < timedelta(minutes=1)
