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
    title="The body is not JSON",
    description="The body is empty, is not JSON in UTF-8 (RFC 8259), or is nested too deeply.",
    example="JSON is malformed: invalid character (byte 17).",
)
INVALID_REQUEST: Final = ProblemType(
    name="invalid-request",
    status=400,
    title="The request does not match the schema",
    description="Members are missing, unknown, or not of the published shape; errors lists them.",
    example="/blocks/3/nominal: must be decimal text such as '12.3455', or a number.",
)
UNKNOWN_PARAMETER: Final = ProblemType(
    name="unknown-parameter",
    status=400,
    title="The query parameter is not known",
    description="The operation has no such query parameter; nothing is ignored silently.",
    example="There is no query parameter 'limt' here.",
)
INVALID_PARAMETER: Final = ProblemType(
    name="invalid-parameter",
    status=400,
    title="The query parameter cannot be read",
    description="A query parameter is not of the published shape.",
    example="unit: 'ft' is neither mm nor in.",
)
BAD_REQUEST: Final = ProblemType(
    name="bad-request",
    status=400,
    title="The request cannot be read",
    description="The request line or a header is not valid.",
    example="Invalid host header.",
)
NOT_FOUND: Final = ProblemType(
    name="not-found",
    status=404,
    title="There is no such resource",
    description="Nothing has this address.",
    example="There is no composition 'inch-80'.",
)
METHOD_NOT_ALLOWED: Final = ProblemType(
    name="method-not-allowed",
    status=405,
    title="The method is not allowed here",
    description="The Allow header lists the methods of this address.",
    example="DELETE is not allowed here.",
)
BODY_TOO_LARGE: Final = ProblemType(
    name="body-too-large",
    status=413,
    title="The body is too large",
    description="The largest body is given by GET /v1/limits.",
    example="The body is larger than 1048576 bytes.",
)
UNSUPPORTED_MEDIA_TYPE: Final = ProblemType(
    name="unsupported-media-type",
    status=415,
    title="The body is of an unsupported type",
    description="Send application/json in UTF-8, without content encoding.",
    example="Send application/json, not text/xml.",
)
# Not 400: a client that keeps to the document never meets that, but it may well meet this.
UNPROCESSABLE_CONTENT: Final = ProblemType(
    name="unprocessable-content",
    status=422,
    title="The request cannot be processed",
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
    title="The certificate is not valid",
    description=(
        "Something in the certificate cannot be taken, so nothing of it was; errors says what and "
        "where. In certificates that are not JSON the place stands in the detail."
    ),
    example="Line 4, deviation: 0,03 has a decimal comma; write a decimal point.",
)
INTERNAL_ERROR: Final = ProblemType(
    name="internal-error",
    status=500,
    title="The service failed",
    description="A fault of the service. Report it with the request_id.",
    example="The request could not be answered.",
)
# Apart from internal-error: whoever watches a service must tell wrong plans from crashes.
ANSWER_CHECK_FAILED: Final = ProblemType(
    name="answer-check-failed",
    status=500,
    title="The answer failed its check",
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
    title="The service is busy",
    description=(
        "The queue is full, no worker was free while at least half the time limit was left for the "
        "search, or the service is ending. Nothing was solved; send the same request again after "
        "the time in Retry-After."
    ),
    example="The queue is full.",
)
NOT_READY: Final = ProblemType(
    name="not-ready",
    status=503,
    title="The service is not ready",
    description="It is starting, ending, or its self test failed; requests should go elsewhere.",
    example="The service is ending.",
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
