"""What is sent: HTTP that is none, and bodies that are meant to hurt; each below 1 MiB."""

import json
from typing import Any

_HEAD = b"POST /v1/stacks HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n"
_NAMESPACE = "n" * 500_000
_SET = {"id": "s", "composition": "inch-81", "grade": "AS-1"}

MALFORMED: tuple[bytes, ...] = (
    b"hello\r\n\r\n",
    b"GET /\x00 HTTP/1.1\r\n\r\n",
    b"GET / HTTP/9.9\r\n\r\n",
    _HEAD + b"Content-Length: 3\r\nContent-Length: 4\r\n\r\n{}{}",
    _HEAD + b"Content-Length: 3\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
    _HEAD + b"Transfer-Encoding: gzip, chunked\r\n\r\n0\r\n\r\n",
    _HEAD + b"Transfer-Encoding: chunked\r\n\r\nzz\r\n",
    _HEAD + b"Transfer-Encoding: chunked\r\n\r\n2\r\n{}\r\n0\r\nX-Client: me\r\n\r\n",
    _HEAD + b"X: 1\r\n" * 1000 + b"\r\n",
    _HEAD + b"X: " + b"x" * 500_000,
    b"GET /" + b"x" * 500_000,
)


def _request(**members: Any) -> bytes:  # noqa: ANN401 - JSON
    target = {"ref": "t", "kind": "length", "length": "1.2345"}
    return json.dumps({"unit": "in", "sets": [_SET], "targets": [target], **members}).encode()


def _nested(kind: str, **members: Any) -> bytes:  # noqa: ANN401 - JSON
    return _request(targets=[{"ref": "t", "kind": kind, **members}])


JSON: tuple[tuple[str, bytes], ...] = tuple(
    (path, body)
    for path, body in (
        ("/v1/stacks", b"[" * 1_000_000),
        ("/v1/stacks", b'{"a":' * 200_000),
        ("/v1/stacks", _request(**{"x" * 1_000_000: 1})),
        ("/v1/stacks", _request(**{f"n{n}": 1 for n in range(70_000)})),
        ("/v1/stacks", _request(sets=[{**_SET, "missing": ["1"] * 200_000}])),
        ("/v1/stacks", _request(exclude=["s/1"] * 120_000)),
        ("/v1/stacks", _nested("check_points", points=["1"] * 200_000)),
        ("/v1/stacks", _nested("check_points", accessories=[{}] * 200_000)),
        ("/v1/stacks", _request(blocks=[{"id": 1}] * 90_000)),
        ("/v1/stacks", _request(targets=[{"kind": "length"}] * 40_000)),
        ("/v1/stacks", _request(time_limit_ms=1).replace(b": 1}", b": " + b"9" * 900_000 + b"}")),
        # Just under the number of values at which a body is refused unread.
        ("/v1/stacks", _nested("length", length="1", labels={f"n{n}": "x" for n in range(32_000)})),
        ("/v1/stacks", _request(exclude=["s/1"] * 32_000)),
        ("/v1/coverage", _request(offers={"blocks": [{"nominal": "1"}] * 50_000})),
        ("/v1/stack-checks", _request(stack=["s/1"] * 120_000)),
        ("/v1/stack-checks", _request(instruments=[{"name": "a"}] * 60_000)),
        ("/v1/certificate-imports", b'{"blocks": [' + b"{}," * 300_000 + b"{}]}"),
    )
)
_DCC = (
    '<d:digitalCalibrationCertificate xmlns:d="https://ptb.de/dcc" xmlns:s="https://ptb.de/si" '
    'schemaVersion="3.2.0"><d:measurementResults><d:measurementResult><d:results><d:result>'
    "{data}</d:result></d:results></d:measurementResult></d:measurementResults>"
    "</d:digitalCalibrationCertificate>"
)
_COLUMN = (
    '<d:quantity refType="gp_{meaning}"><s:realListXMLList><s:valueXMLList>{values}'
    "</s:valueXMLList><s:unitXMLList>\\metre</s:unitXMLList></s:realListXMLList></d:quantity>"
)
_ROWS = _COLUMN.format(meaning="nominal", values="1 " * 240_000) + _COLUMN.format(
    meaning="deviation", values="1 " * 240_000
)
XML: tuple[bytes, ...] = tuple(
    text.encode()
    for text in (
        f'<r xmlns="{_NAMESPACE}">' + "<a/>" * 120_000 + "</r>",
        f'<r xmlns="{_NAMESPACE}">' + "".join(f"<a{n}/>" for n in range(50_000)) + "</r>",
        f'<r xmlns:p="{_NAMESPACE}">' + '<a p:b=""/>' * 40_000 + "</r>",
        "<" + "a" * 1_000_000 + "/>",
        "<r " + " ".join(f'a{n}=""' for n in range(90_000)) + "/>",
        "<r>" + "<a/>" * 250_000 + "</r>",
        "<a>" * 340_000,
        '<!DOCTYPE r [<!ENTITY a "b">]><r>&a;</r>',
        _DCC.format(data=f"<d:data><d:list>{_ROWS}</d:list></d:data>"),
        _DCC.format(data="<d:data><d:quantity/></d:data>" * 30_000),
    )
)
_NAMED = "id,nominal,deviation,expanded_uncertainty"
CSV: tuple[bytes, ...] = (
    f"{_NAMED},{','.join('c' for _ in range(262_000))}\n".encode(),
    f"{_NAMED},{','.join(f'c{n}' for n in range(130_000))}\n".encode(),
    b"x" * 1_000_000,
    f"{_NAMED}\n".encode() + b"a,1,0.1,0.1\n" * 80_000,
    f"{_NAMED}\n".encode() + b'"' * 999_999,
    b"\n" * 1_000_000,
)
SMALL = _request()
HARD = _request(
    sets=[{**_SET, "id": name} for name in "abc"],
    targets=[
        {"ref": f"t{n}", "kind": "length", "length": f"{2 + n * 0.0371:.4f}"} for n in range(40)
    ],
    objective="least_error",
    time_limit_ms=2000,
)
