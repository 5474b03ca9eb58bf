"""Batches as they are sent and answered."""

from typing import Annotated, Final

from msgspec import Meta, Raw, Struct

from wrung_service.api.problems import Problem
from wrung_service.api.shelf.paging import NextPage
from wrung_service.api.stacks.answer import StackAnswer
from wrung_service.api.stacks.request import StackRequest
from wrung_service.api.texts import Moment
from wrung_service.store.batches import batches
from wrung_service.store.batches.batches import BatchState

_REQUESTS: Final = "Each as `POST /v1/stacks` takes it. Their order is that of the results."
_MOST: Final = 100_000


class BatchRequest(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Requests for stacks, to be answered in the background."""

    requests: Annotated[
        tuple[StackRequest, ...], Meta(min_length=1, max_length=_MOST, description=_REQUESTS)
    ]


class UnreadRequests(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The same, as far as it is read before it is kept."""

    requests: Annotated[tuple[Raw, ...], Meta(min_length=1, max_length=_MOST)]


class Batch(Struct, frozen=True, kw_only=True):
    """A batch, and how far it is."""

    id: Annotated[str, Meta(description="Made by the service.")]
    site: Annotated[
        str | None,
        Meta(
            description="Whoever sees this site sees the batch, and its webhooks tell of it. Null: "
            "only whoever posted it sees it."
        ),
    ]
    state: Annotated[
        BatchState,
        Meta(
            description="`waiting`: no worker has begun it. `running`. `done`: every request has "
            "its answer. `cancelled`, `expired`: it ended with the answers that it had."
        ),
    ]
    total: Annotated[int, Meta(description="How many requests it has.")]
    answered: Annotated[int, Meta(description="How many of them have an answer.")]
    failed: Annotated[int, Meta(description="How many of these answers are problems.")]
    made_at: Annotated[Moment, Meta(description="When it was posted.")]
    made_by: Annotated[str, Meta(description="Who posted it.")]
    ended_at: Annotated[Moment | None, Meta(description="When it ended; null if it goes on.")]
    expires_at: Annotated[
        Moment,
        Meta(
            description="When it ends with the answers that it has, if it goes on until then; once "
            "it has ended, when it is removed with them."
        ),
    ]


class BatchList(Struct, frozen=True, kw_only=True):
    """Batches, the newest first."""

    batches: Annotated[tuple[Batch, ...], Meta(description="One page of them.")]
    next: NextPage


class BatchResult(Struct, frozen=True, kw_only=True):
    """The answer to one request of a batch: what it would have been answered alone."""

    position: Annotated[int, Meta(description="Place of the request in the batch, from 0.")]
    status: Annotated[int, Meta(description="HTTP status that it would have been answered with.")]
    answer: Annotated[StackAnswer | None, Meta(description="Its answer; null if it is a problem.")]
    problem: Annotated[
        Problem | None,
        Meta(
            description="Why there is none, in the language that the request for the batch "
            "preferred; null if there is one."
        ),
    ]


class BatchResults(Struct, frozen=True, kw_only=True):
    """Some results of a batch, in the order of its requests."""

    results: Annotated[tuple[BatchResult, ...], Meta(description="In order.")]
    next: Annotated[
        int | None,
        Meta(
            description="Send it as `after` for those that follow, or are still to come; null: "
            "these were the last."
        ),
    ]


def write_batch(kept: batches.Batch) -> Batch:
    """A batch as it stands on the wire."""
    return Batch(
        id=kept.id,
        site=kept.site_id,
        state=kept.state,
        total=kept.total,
        answered=kept.answered,
        failed=kept.failed,
        made_at=kept.made_at,
        made_by=kept.made_by,
        ended_at=kept.ended_at,
        expires_at=kept.expires_at,
    )
