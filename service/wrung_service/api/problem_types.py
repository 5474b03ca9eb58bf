"""The catalogue of problem types. Their names and titles never change; texts are data."""

import tomllib
from functools import cache
from importlib.resources import files
from typing import Final

from msgspec import Struct


class _Texts(Struct, frozen=True, kw_only=True):
    title: str
    description: str
    example: str


class ProblemType(Struct, frozen=True):
    """A kind of problem.

    Attributes:
        name: last part of the type's address.
        status: HTTP status that it comes with.
    """

    name: str
    status: int

    @property
    def uri(self) -> str:
        """The ``type`` member: an address of this service that describes the problem."""
        return f"/problems/{self.name}"

    @property
    def title(self) -> str:
        """What it is, the same for each occurrence."""
        return _texts()[self.name].title

    @property
    def description(self) -> str:
        """When it occurs and what to do."""
        return _texts()[self.name].description

    @property
    def example(self) -> str:
        """A detail as it may stand in an occurrence."""
        return _texts()[self.name].example


@cache
def _texts() -> dict[str, _Texts]:
    table = files("wrung_service.api").joinpath("problem_types.toml").read_text(encoding="utf-8")
    return {name: _Texts(**texts) for name, texts in tomllib.loads(table).items()}


MALFORMED_JSON: Final = ProblemType("malformed-json", 400)
INVALID_REQUEST: Final = ProblemType("invalid-request", 400)
UNKNOWN_PARAMETER: Final = ProblemType("unknown-parameter", 400)
INVALID_PARAMETER: Final = ProblemType("invalid-parameter", 400)
BAD_REQUEST: Final = ProblemType("bad-request", 400)
UNAUTHORIZED: Final = ProblemType("unauthorized", 401)
FORBIDDEN: Final = ProblemType("forbidden", 403)
TOO_MANY_REQUESTS: Final = ProblemType("too-many-requests", 429)
ISSUER_UNAVAILABLE: Final = ProblemType("issuer-unavailable", 503)
NOT_FOUND: Final = ProblemType("not-found", 404)
METHOD_NOT_ALLOWED: Final = ProblemType("method-not-allowed", 405)
NO_STORE: Final = ProblemType("no-store", 404)
CONFLICT: Final = ProblemType("conflict", 409)
BLOCKS_TAKEN: Final = ProblemType("blocks-taken", 409)
NOT_ALL_SERVED: Final = ProblemType("not-all-served", 409)
NOT_DECIDED: Final = ProblemType("not-decided", 409)
PRECONDITION_FAILED: Final = ProblemType("precondition-failed", 412)
PRECONDITION_REQUIRED: Final = ProblemType("precondition-required", 428)
KEY_REUSED: Final = ProblemType("idempotency-key-reused", 422)
BODY_TOO_LARGE: Final = ProblemType("body-too-large", 413)
UNSUPPORTED_MEDIA_TYPE: Final = ProblemType("unsupported-media-type", 415)
# Not 400: a client that keeps to the document never meets that, but it may well meet this.
UNPROCESSABLE_CONTENT: Final = ProblemType("unprocessable-content", 422)
INVALID_CERTIFICATE: Final = ProblemType("invalid-certificate", 422)
INTERNAL_ERROR: Final = ProblemType("internal-error", 500)
# Apart from internal-error: whoever watches a service must tell wrong plans from crashes.
ANSWER_CHECK_FAILED: Final = ProblemType("answer-check-failed", 500)
WORKER_DIED: Final = ProblemType("worker-died", 500)
# Not 429: the service is full, whoever asks; this client did nothing too often.
BUSY: Final = ProblemType("busy", 503)
NOT_READY: Final = ProblemType("not-ready", 503)
STORE_UNAVAILABLE: Final = ProblemType("store-unavailable", 503)

ACCESS_PROBLEMS: Final = (UNAUTHORIZED, FORBIDDEN, TOO_MANY_REQUESTS, ISSUER_UNAVAILABLE)
"""What any request may come to where a key or token is asked for."""
BODY_PROBLEMS: Final = (
    MALFORMED_JSON,
    INVALID_REQUEST,
    BODY_TOO_LARGE,
    UNSUPPORTED_MEDIA_TYPE,
    UNPROCESSABLE_CONTENT,
)
"""What any JSON body may come to."""
VERSION_PROBLEMS: Final = (PRECONDITION_FAILED, PRECONDITION_REQUIRED)
"""What a change of something that has versions may come to."""
STORE_PROBLEMS: Final = (NO_STORE, BUSY, STORE_UNAVAILABLE)
"""What any request to the store may come to."""
SEARCH_PROBLEMS: Final = (
    *BODY_PROBLEMS,
    ANSWER_CHECK_FAILED,
    BUSY,
)
"""What a posted request that is searched for may come to."""

CATALOGUE: Final = (
    MALFORMED_JSON,
    INVALID_REQUEST,
    UNKNOWN_PARAMETER,
    INVALID_PARAMETER,
    BAD_REQUEST,
    UNAUTHORIZED,
    FORBIDDEN,
    NOT_FOUND,
    NO_STORE,
    METHOD_NOT_ALLOWED,
    CONFLICT,
    BLOCKS_TAKEN,
    NOT_ALL_SERVED,
    NOT_DECIDED,
    PRECONDITION_FAILED,
    BODY_TOO_LARGE,
    UNSUPPORTED_MEDIA_TYPE,
    UNPROCESSABLE_CONTENT,
    INVALID_CERTIFICATE,
    KEY_REUSED,
    PRECONDITION_REQUIRED,
    TOO_MANY_REQUESTS,
    INTERNAL_ERROR,
    ANSWER_CHECK_FAILED,
    WORKER_DIED,
    BUSY,
    NOT_READY,
    STORE_UNAVAILABLE,
    ISSUER_UNAVAILABLE,
)
