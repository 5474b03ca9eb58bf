"""Requests put to a running service, one after the other on one connection."""

import json
import time
from collections.abc import Iterable, Iterator
from http.client import HTTPConnection

from .report import Sample

_LONGEST_S = 90


def samples(port: int, bodies: Iterable[bytes]) -> Iterator[Sample]:
    """Post one after the other; the time is from the first byte sent to the last received."""
    connection = HTTPConnection("127.0.0.1", port, timeout=_LONGEST_S)
    for body in bodies:
        start = time.perf_counter()
        connection.request("POST", "/v1/stacks", body, {"Content-Type": "application/json"})
        response = connection.getresponse()
        text = response.read()
        ms = (time.perf_counter() - start) * 1000
        if response.status != 200:
            raise RuntimeError(f"the service answered {response.status}: {text.decode()}")
        answer = json.loads(text)
        proven = answer["proven"] and answer["objective_proven"]
        yield Sample(ms=ms, outcome=answer["outcome"], proven=proven)
    connection.close()
