"""The catalogue of problem types. Their names and titles never change."""

from typing import Final

from msgspec import Struct


class ProblemType(Struct, frozen=True, kw_only=True):
    """A kind of problem.

    Attributes:
        name: last part of the type's address.
        status: HTTP status that it comes with.
        title: what it is, the same for each occurrence.
        description: when it occurs and what to do.
        example: a detail as it may stand in an occurrence.
    """

    name: str
    status: int
    title: str
    description: str
    example: str

    @property
    def uri(self) -> str:
        """The ``type`` member: an address of this service that describes the problem."""
        return f"/problems/{self.name}"


MALFORMED_JSON: Final = ProblemType(
    name="malformed-json",
    status=400,
    title="Body is not JSON",
    description="The body is empty, is not JSON in UTF-8 (RFC 8259), or is too deeply nested.",
    example="JSON is malformed: invalid character (byte 17).",
)
INVALID_REQUEST: Final = ProblemType(
    name="invalid-request",
    status=400,
    title="Request does not match the schema",
    description="Members are missing, unknown, or of the wrong type or format; errors lists them.",
    example="/blocks/3/nominal: must be decimal text such as '12.3455', without a unit, or a "
    "number, with at most 12 digits on each side of the point.",
)
UNKNOWN_PARAMETER: Final = ProblemType(
    name="unknown-parameter",
    status=400,
    title="Unknown query parameter",
    description="The operation has no such query parameter. Unknown parameters are not ignored.",
    example="There is no query parameter 'limt' here; the nearest known is limit; there are "
    "cursor, limit.",
)
INVALID_PARAMETER: Final = ProblemType(
    name="invalid-parameter",
    status=400,
    title="Invalid query parameter",
    description="A query parameter has the wrong format.",
    example="unit: 'ft' is neither mm nor in.",
)
BAD_REQUEST: Final = ProblemType(
    name="bad-request",
    status=400,
    title="Bad request",
    description="The request line or a header is invalid.",
    example="Invalid host header.",
)
UNAUTHORIZED: Final = ProblemType(
    name="unauthorized",
    status=401,
    title="Key or token needed",
    description="This instance asks for an API key or an OAuth 2.0 access token: send it as "
    "`Authorization: Bearer ...`. Either none came, or it is not valid, or no longer.",
    example="Send a key or token: `Authorization: Bearer ...`.",
)
FORBIDDEN: Final = ProblemType(
    name="forbidden",
    status=403,
    title="Not allowed by the key or token",
    description="The key or token is valid, but its scopes (read, plan, crib, admin) do not allow "
    "this operation; the detail says which one is needed.",
    example="This needs the scope plan, which the key or token lacks.",
)
TOO_MANY_REQUESTS: Final = ProblemType(
    name="too-many-requests",
    status=429,
    title="Too many requests",
    description="The holder of this key or token asked more often than this instance allows. Send "
    "the same request again after the time in Retry-After.",
    example="More than 600 requests in a minute.",
)
ISSUER_UNAVAILABLE: Final = ProblemType(
    name="issuer-unavailable",
    status=503,
    title="Issuer of tokens not available",
    description="The keys of the issuer, which access tokens are checked by, could not be fetched. "
    "Send the same request again after the time in Retry-After, or use an API key.",
    example="The keys of the token's issuer could not be fetched.",
)
NOT_FOUND: Final = ProblemType(
    name="not-found",
    status=404,
    title="Not found",
    description="There is nothing at this address.",
    example="No composition 'inch-80' is known; the nearest known are inch-88, inch-81, inch-28.",
)
METHOD_NOT_ALLOWED: Final = ProblemType(
    name="method-not-allowed",
    status=405,
    title="Method not allowed",
    description="The Allow header lists the methods of this address.",
    example="DELETE is not allowed here.",
)
NO_STORE: Final = ProblemType(
    name="no-store",
    status=404,
    title="Service keeps no crib",
    description="This instance was started without a store, so it has no sites, sets, blocks, "
    "plans or batches. Its operator can set WRUNG_STORE_URL. Requests that bring their blocks, and "
    "are answered at once, need none.",
    example="This service keeps no crib and no batches: its operator has set no store "
    "(WRUNG_STORE_URL).",
)
CONFLICT: Final = ProblemType(
    name="conflict",
    status=409,
    title="Not possible in this state",
    description="What the request is about is in a state in which that cannot be done; the detail "
    "says which. Get it, and decide anew.",
    example="The plan '5b0c1c2b6d0f4f0f9e3a7d1c2b3a4f5e' is done already.",
)
BLOCKS_TAKEN: Final = ProblemType(
    name="blocks-taken",
    status=409,
    title="Blocks were promised to others",
    description="Blocks that are needed are promised to other plans for that time, or were, again "
    "and again, while this request looked for others; `taken` says which, and to whom. Nothing was "
    "stored. Ask for another time, or send the request again.",
    example="No stack for 'op-10' from the blocks that others leave free at that time.",
)
NOT_ALL_SERVED: Final = ProblemType(
    name="not-all-served",
    status=409,
    title="Not every target can have a stack",
    description="A plan is kept only if every target has a stack, or with `partial` at least one. "
    "The blocks that there are do not do, whoever has them; `POST /v1/stacks` with the same crib "
    "says why. Nothing was stored.",
    example="No stack for 'op-10': No stack that keeps to the request has this length, even with "
    "every block free that may be used.",
)
NOT_DECIDED: Final = ProblemType(
    name="not-decided",
    status=409,
    title="Time ended before a plan was found",
    description="The search ended, at its time limit or its limit of effort, before it was known "
    "whether every target can have a stack. Nothing was stored. Send the request again with a "
    "longer `time_limit_ms`, or with fewer targets.",
    example="No stack for 'op-10' was found before the search ended; there may be one.",
)
PRECONDITION_FAILED: Final = ProblemType(
    name="precondition-failed",
    status=412,
    title="It was changed meanwhile",
    description="If-Match names another version than there is, or If-None-Match says that there "
    "must be none and there is one. Get it, and decide anew.",
    example="The block 'bench-3/1.005' was changed meanwhile.",
)
PRECONDITION_REQUIRED: Final = ProblemType(
    name="precondition-required",
    status=428,
    title="Version required",
    description="Say in If-Match which version is to be changed (its ETag), so that no change of "
    "others is lost; If-None-Match: * makes something new.",
    example="The block 'bench-3/1.005' is there already; send its ETag as If-Match.",
)
KEY_REUSED: Final = ProblemType(
    name="idempotency-key-reused",
    status=422,
    title="Idempotency-Key was used for another request",
    description="The same Idempotency-Key came with another request before. Choose a new key for "
    "each new request; the same key with the same request gets the first answer again.",
    example="This Idempotency-Key was sent with another request before.",
)
BODY_TOO_LARGE: Final = ProblemType(
    name="body-too-large",
    status=413,
    title="Body too large",
    description="GET /v1/limits gives the size. JSON has one value for 32 bytes of it at most.",
    example="The body is larger than 1048576 bytes.",
)
UNSUPPORTED_MEDIA_TYPE: Final = ProblemType(
    name="unsupported-media-type",
    status=415,
    title="Unsupported media type",
    description="Send application/json in UTF-8, without content encoding.",
    example="Send application/json, not text/xml.",
)
# Not 400: a client that keeps to the document never meets that, but it may well meet this.
UNPROCESSABLE_CONTENT: Final = ProblemType(
    name="unprocessable-content",
    status=422,
    title="Values cannot be processed",
    description=(
        "The body matches the schema, but its values contradict each other, name something that "
        "does not exist, or exceed a limit; errors lists the members. A target that cannot be "
        "built is not an error: the answer gives an outcome and an explanation."
    ),
    example="/sets/0/composition: no composition 'inch-80' is known; the nearest known are "
    "inch-88, inch-81, inch-28.",
)
INVALID_CERTIFICATE: Final = ProblemType(
    name="invalid-certificate",
    status=422,
    title="Invalid certificate",
    description=(
        "Something in the certificate is invalid, so nothing was imported; errors says what "
        "and where. For certificates that are not JSON, the detail gives the place."
    ),
    example="Line 4, deviation '0,03' has a decimal comma; write a decimal point, and nothing "
    "between thousands.",
)
INTERNAL_ERROR: Final = ProblemType(
    name="internal-error",
    status=500,
    title="Internal error",
    description="The service has a fault. Please report it with the request_id.",
    example="The request could not be answered.",
)
# Apart from internal-error: whoever watches a service must tell wrong plans from crashes.
ANSWER_CHECK_FAILED: Final = ProblemType(
    name="answer-check-failed",
    status=500,
    title="Answer failed its check",
    description=(
        "Every answer is recomputed by an independent checker before it is sent. This one has a "
        "wrong stack, so it was held back. Report it with the request_id."
    ),
    example="The answer did not pass its check.",
)
WORKER_DIED: Final = ProblemType(
    name="worker-died",
    status=500,
    title="Workers died of the request",
    description="Only among the results of a batch: workers that began this request ended at once, "
    "again and again, mostly since the search needs more memory than they have. It is not tried "
    "any more. Send it alone with fewer targets or blocks, and report it if that does not help.",
    example="Workers that began this request died of it.",
)
# Not 429: the service is full, whoever asks; this client did nothing too often.
BUSY: Final = ProblemType(
    name="busy",
    status=503,
    title="Service busy",
    description=(
        "The queue is full, no worker was free while at least half the time limit was left for the "
        "search, or the service is stopping. Nothing was computed; send the same request again "
        "after the time in Retry-After."
    ),
    example="The queue is full.",
)
NOT_READY: Final = ProblemType(
    name="not-ready",
    status=503,
    title="Service not ready",
    description="The service is starting or stopping, or its self-test failed. Send requests "
    "elsewhere.",
    example="The service is stopping.",
)
STORE_UNAVAILABLE: Final = ProblemType(
    name="store-unavailable",
    status=503,
    title="Store not available",
    description="The database cannot be reached, is locked, or its disk is full. Nothing was "
    "stored. Send the same request again after the time in Retry-After.",
    example="The database cannot be reached.",
)
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
