"""What is promised, out, late and overdue, as metrics say it."""

import sqlalchemy as sa
from litestar.testing import TestClient
from prometheus_client.parser import text_string_to_metric_families

from store.planning import issue
from store.rows import SITE, START, add_block, add_plan, add_promise, add_site, hours
from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.store import tables
from wrung_service.store.engine import Store
from wrung_service.store.figures import Figures, count_figures


def filled(store: Store) -> None:
    """Two sites; a is promised twice and out, b once and overdue for calibration, c is missing."""
    overdue = hours(-48).date()
    with store.writing() as c:
        for site in (SITE, "other"):
            add_site(c, site)
        add_block(c, "a")
        add_block(c, "b", due_on=overdue)
        add_block(c, "c", due_on=overdue, condition="missing", condition_reason="gone")
        add_block(c, "a", site="other")
        add_plan(c, "one")
        add_plan(c, "two", starts_at=hours(8), ends_at=hours(9))
        add_plan(c, "theirs", site="other")
        add_promise(c, "one", "a", (0, 1))
        add_promise(c, "one", "b", (0, 1))
        add_promise(c, "two", "a", (8, 9))
        add_promise(c, "theirs", "a", (0, 1), "other")
    issue(store, "a", "one")
    with store.writing() as c:
        risk = {"site_id": SITE, "plan_id": "one", "reason": "damaged", "noted_at": START}
        c.execute(sa.insert(tables.risk), [{**risk, "block_id": name} for name in ("a", "b")])


def test_the_figures_are_of_all_sites(store: Store) -> None:
    """Blocks are counted once, however often they are promised; so are plans at risk."""
    filled(store)
    with store.reading() as connection:
        found = count_figures(connection, hours(0.5))
        after = count_figures(connection, hours(24))
    assert found == Figures(
        promised_blocks=3,
        blocks_out=1,
        overdue_loans=0,
        overdue_calibrations=1,
        plans_at_risk=1,
        waiting_webhooks=0,
        waiting_batches=0,
        waiting_requests=0,
        oldest_batch_seconds=0,
    )
    assert (after.promised_blocks, after.overdue_loans) == (0, 1)


def test_the_metrics_have_them(store: Store) -> None:
    """As gauges, and that the store answered."""
    filled(store)
    with TestClient(create_app(Settings(), store=store, clock=lambda: hours(0.5))) as client:
        text = client.get("/metrics").text
    found = {
        sample.name: sample.value
        for family in text_string_to_metric_families(text)
        for sample in family.samples
    }
    assert found["wrung_store_up"] == 1
    assert found["wrung_promised_blocks"] == 3
    assert found["wrung_blocks_out"] == 1
