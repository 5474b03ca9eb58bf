"""What the document says of the messages themselves: its member ``webhooks`` (OpenAPI 3.1)."""

from collections.abc import Mapping
from typing import Any, Final

import msgspec
from msgspec import Struct

from wrung_service.store.webhooks import messages

Document = dict[str, Any]

_SENT: Final[tuple[tuple[str, type[Struct], str], ...]] = (
    ("planAtRisk", messages.PlanAtRiskMessage, "A plan is at risk"),
    ("planChanged", messages.PlanChangedMessage, "A plan was changed"),
    ("planExpired", messages.PlanExpiredMessage, "A plan expired"),
    ("blockLate", messages.BlockLateMessage, "A block is late"),
    ("blockDue", messages.BlockDueMessage, "A block is due for calibration"),
    ("blockOverdue", messages.BlockOverdueMessage, "A block's calibration ran out"),
    ("batchEnded", messages.BatchEndedMessage, "A batch has ended"),
    ("webhookTest", messages.TestMessage, "A test"),
)
MESSAGES: Final = tuple(kind for _, kind, _ in _SENT)
"""The bodies, whose schemas stand among the components."""
_HEADERS: Final[Mapping[str, tuple[str, str]]] = {
    "webhook-id": (
        "The message's id, the same in every try: whoever has seen it has no more to do.",
        "msg_5f0c1a7be94d4f7d9a1d1f6a2b3c4d5e",
    ),
    "webhook-timestamp": (
        "When this try was sent, seconds since 1970 (UTC); refuse what is older than some minutes.",
        "1803910320",
    ),
    "webhook-signature": (
        (
            "`v1,` and the HMAC-SHA256 in base64 of id, timestamp and body, joined by dots; two of "
            "them, joined by a space, while a secret is changed over."
        ),
        "v1,K5oZfzN95Z9UVu1EsfQmfVNQhnkZ2pj9o9NDN/H/pI4=",
    ),
}
_ANSWERS: Final[Mapping[str, str]] = {
    "2XX": "The message has arrived; nothing is read of the body.",
    "410": "The receiver is gone: the webhook is disabled.",
    "default": "Anything else, a redirect as well, counts as not arrived: it is tried again.",
}


def webhooks_document() -> Document:
    """By name, each message as an operation of the receiver."""
    examples = example_messages()
    return {
        name: {"post": _operation(name, kind, summary, examples[kind])}
        for name, kind, summary in _SENT
    }


def _operation(name: str, kind: type[Struct], summary: str, example: Any) -> Document:  # noqa: ANN401 - JSON
    return {
        "operationId": f"on{name[0].upper()}{name[1:]}",
        "tags": ["webhooks"],
        "summary": summary,
        "description": kind.__doc__,
        # Signed by the service, which shows no key.
        "security": [{}],
        "parameters": [_header(each) for each in _HEADERS],
        "requestBody": {
            "required": True,
            "content": {
                "application/json": {
                    "schema": {"$ref": f"#/components/schemas/{kind.__name__}"},
                    "examples": {"message": {"summary": summary, "value": example}},
                }
            },
        },
        "responses": {status: {"description": said} for status, said in _ANSWERS.items()},
    }


def _header(name: str) -> Document:
    description, example = _HEADERS[name]
    return {
        "name": name,
        "in": "header",
        "required": True,
        "description": description,
        "schema": {"type": "string", "maxLength": 1000},
        "example": example,
    }


def example_messages() -> dict[type[Struct], Any]:
    """A body of each message."""
    at = "2027-03-01T14:12:00Z"
    site = {"site": "north-hall"}
    plan = {
        **site,
        "plan": "9d2f6a0c7b1e4f58a3c4d5e6f7a8b9c0",
        "job": "4711",
        "operation": "op20",
        "state": "planned",
        "starts_at": "2027-03-02T07:00:00Z",
        "ends_at": "2027-03-02T09:00:00Z",
    }
    block = {**site, "block": "bench-3/1.005"}
    due = {**block, "set": "bench-3", "certificate": "K-2026-118", "due_on": "2027-03-31"}
    late = {
        **block,
        "plan": plan["plan"],
        "borrower": None,
        "issued_at": "2027-03-01T07:02:00Z",
        "due_at": "2027-03-01T14:00:00Z",
    }
    batch = {
        **site,
        "batch": "7c9e6679f1b24a0e8d3b5c6a7f8e9d0c",
        "state": "done",
        "total": 4000,
        "answered": 4000,
        "failed": 3,
    }
    figures: dict[type[Struct], Any] = {
        messages.PlanAtRiskMessage: {**plan, "block": "bench-3/1.005", "reason": "damaged"},
        messages.PlanChangedMessage: {**plan, "by": "traveller (x2c4v6b7)", "why": None},
        messages.PlanExpiredMessage: {**plan, "state": "expired"},
        messages.BlockLateMessage: late,
        messages.BlockDueMessage: due,
        messages.BlockOverdueMessage: {**due, "due_on": "2027-02-28"},
        messages.BatchEndedMessage: batch,
        messages.TestMessage: {**site, "webhook": "erp"},
    }
    return {kind: _message(kind, at, data) for kind, data in figures.items()}


def _message(kind: type[Struct], at: str, data: Any) -> Any:  # noqa: ANN401 - JSON
    (named,) = (each for each in msgspec.structs.fields(kind) if each.name == "type")
    return {"type": named.default, "timestamp": at, "data": data}
