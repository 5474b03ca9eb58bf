"""Every table, for both databases at once.

All that belongs to a site has its `site_id`, first in every key, so that no statement can forget
which site it is about. Lengths are quanta of 0.01 nm, as in the library; bodies are JSON text.
"""

from wrung_service.store.tables.access import api_key
from wrung_service.store.tables.base import metadata
from wrung_service.store.tables.batches import batch, batch_answer, batch_chunk, batch_item
from wrung_service.store.tables.journal import history, idempotency_key
from wrung_service.store.tables.plans import loan, plan, promise, risk
from wrung_service.store.tables.shelf import block, certificate, gauge_set, site
from wrung_service.store.tables.webhooks import (
    webhook_delivery,
    webhook_endpoint,
    webhook_notice,
)

__all__ = [
    "api_key",
    "batch",
    "batch_answer",
    "batch_chunk",
    "batch_item",
    "block",
    "certificate",
    "gauge_set",
    "history",
    "idempotency_key",
    "loan",
    "metadata",
    "plan",
    "promise",
    "risk",
    "site",
    "webhook_delivery",
    "webhook_endpoint",
    "webhook_notice",
]
