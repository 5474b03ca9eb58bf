"""Writes a body of the API."""

from typing import Final

import msgspec
from litestar import Response
from msgspec import Struct

from wrung_service.api.bodies import JSON

_ENCODER: Final = msgspec.json.Encoder()


def respond(body: Struct) -> Response[bytes]:
    """A 200 answer."""
    return Response(_ENCODER.encode(body), media_type=JSON)
