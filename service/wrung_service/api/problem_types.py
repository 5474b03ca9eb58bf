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
    example="/blocks/3/nominal: must be decimal text such as '12.3455', or a number.",
)
UNKNOWN_PARAMETER: Final = ProblemType(
    name="unknown-parameter",
    status=400,
    title="Unknown query parameter",
    description="The operation has no such query parameter. Unknown parameters are not ignored.",
    example="There is no query parameter 'limt' here.",
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
NOT_FOUND: Final = ProblemType(
    name="not-found",
    status=404,
    title="Not found",
    description="There is nothing at this address.",
    example="There is no composition 'inch-80'.",
)
METHOD_NOT_ALLOWED: Final = ProblemType(
    name="method-not-allowed",
    status=405,
    title="Method not allowed",
    description="The Allow header lists the methods of this address.",
    example="DELETE is not allowed here.",
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
    example="/sets/0/composition: no composition 'inch-80' is known.",
)
INVALID_CERTIFICATE: Final = ProblemType(
    name="invalid-certificate",
    status=422,
    title="Invalid certificate",
    description=(
        "Something in the certificate is invalid, so nothing was imported; errors says what "
        "and where. For certificates that are not JSON, the detail gives the place."
    ),
    example="Line 4, deviation: 0,03 has a decimal comma; write a decimal point.",
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
SEARCH_PROBLEMS: Final = (
    MALFORMED_JSON,
    INVALID_REQUEST,
    BODY_TOO_LARGE,
    UNSUPPORTED_MEDIA_TYPE,
    UNPROCESSABLE_CONTENT,
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
    NOT_FOUND,
    METHOD_NOT_ALLOWED,
    BODY_TOO_LARGE,
    UNSUPPORTED_MEDIA_TYPE,
    UNPROCESSABLE_CONTENT,
    INVALID_CERTIFICATE,
    INTERNAL_ERROR,
    ANSWER_CHECK_FAILED,
    BUSY,
    NOT_READY,
)
