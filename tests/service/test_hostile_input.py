"""Bodies that are meant to hurt: a clear problem each, and the next good request is answered."""

import json

import pytest

from service.bodies import Json, block, problem_name, request, target
from service.conftest import Client

JSON = {"Content-Type": "application/json"}
GOOD = json.dumps(request())


def changed(old: str, new: str) -> bytes:
    """A good body with a piece changed into something else."""
    assert old in GOOD
    return GOOD.replace(old, new, 1).encode()


MALFORMED = {
    "empty": b"",
    "blank": b" \n\t ",
    "bad UTF-8 in a key": b'{"\xff": 1}',
    "bad UTF-8 in a name": changed('"op20"', '"op20"').replace(b"op20", b"\xc3\x28"),
    "UTF-16": GOOD.encode("utf-16"),
    "NaN": changed('"0.3506"', "NaN"),
    "Infinity": changed('"0.3506"', "-Infinity"),
    "deep objects": b'{"a":' * 150_000,
    "deep in a known member": changed('"0.3506"', "[" * 200_000 + "]" * 200_000),
    "cut off": GOOD[:-1].encode(),
    "trailing": (GOOD + "}").encode(),
    "comment": b"/* */" + GOOD.encode(),
    "single quotes": GOOD.replace('"', "'").encode(),
    "NUL": changed("op20", "op\x00"),
    "lone surrogate": changed("op20", "\\ud800"),
}
INVALID = {
    "not an object": b"[]",
    "null": b"null",
    "deep arrays": b"[" * 500_000,
    "huge exponent for an integer": changed('"joint', '"time_limit_ms": 1e999999, "joint'),
    "huge integer": changed('"joint', f'"time_limit_ms": {"9" * 100_000}, "joint'),
    "huge text of digits": changed('"0.3506"', f'"{"9" * 500_000}"'),
    "escaped NUL": changed("op20", "\\u0000"),
    "line break in a name": changed("op20", "op20\\n"),
    "long name": changed("op20", "n" * 65),
    "full-width digits": changed("0.3506", "\uff10.\uff13"),
    "underscores": changed("0.3506", "0_3506"),
    "float for a flag": changed('"length"', "1.5"),
}
MEANINGLESS = {
    "huge exponent": changed('"0.3506"', "1e999999"),
    "tiny exponent": changed('"0.3506"', "1e-999999"),
    "huge number": changed('"0.3506"', "9" * 500_000),
    "beyond the longest": changed("0.3506", "999999999999"),
    "too fine": changed("0.3506", "0.000000000001"),
    "same id twice": changed('"a2"', '"a1"'),
    "no time left over": json.dumps(
        request(targets=[target("t", "1", needed_from="0001-01-01T00:00:00+23:59",
                                needed_until="0001-01-01T00:00:00+23:59")])
    ).encode(),
}  # fmt: skip
CASES = [
    *((name, body, 400, "malformed-json") for name, body in MALFORMED.items()),
    *((name, body, 400, "invalid-request") for name, body in INVALID.items()),
    *((name, body, 422, "unprocessable-content") for name, body in MEANINGLESS.items()),
    ("10 MB", b"[" + b"1," * 5_000_000 + b"1]", 413, "body-too-large"),
    ("half a million values", b"[" + b"1," * 500_000 + b"1]", 413, "body-too-large"),
]


@pytest.mark.parametrize(
    ("body", "status", "name"), [case[1:] for case in CASES], ids=[case[0] for case in CASES]
)
def test_a_hostile_body_is_a_clear_problem(
    client: Client, body: bytes, status: int, name: str
) -> None:
    """Never a 500, a sentence to read, and the next request is served."""
    response = client.post("/v1/stacks", content=body, headers=JSON)

    assert (response.status_code, problem_name(response)) == (status, name), response.text[:500]
    assert response.json()["detail"].endswith(".")
    assert len(response.content) < 10_000
    assert client.post("/v1/stacks", content=GOOD, headers=JSON).status_code == 200


def test_a_chunked_body_is_limited_too(client: Client) -> None:
    """It announces no length, so the bytes are counted."""
    pieces = (b" " * 65_536 for _ in range(32))

    response = client.post("/v1/stacks", content=pieces, headers=JSON)

    assert (response.status_code, problem_name(response)) == (413, "body-too-large")


QUANTUM = "0.00000001"
SEARCHES = {
    "nothing on the shelf, a long target": request(unit="mm", blocks=[], targets=[
        target("t", "9999.99999999")]),
    "the shortest and the longest block": request(unit="mm", targets=[
        target("t", "9999.00000002")], blocks=[block("a", QUANTUM), block("b", "9999")]),
    "no common step": request(unit="mm", targets=[target("t", "9876.54321098")], blocks=[
        block(f"b{n}", f"{n + 1}.{n * 7919 % 100_000_000:08d}") for n in range(1000)]),
    "a wide tolerance": request(unit="mm", targets=[
        target("t", "9999", tolerance={"lower": "-9998", "upper": "1"})]),
    "many of one length": request(unit="mm", targets=[target("t", "500.5")], blocks=[
        block(f"b{n}", "1") for n in range(1000)]),
    "many targets alike": request(targets=[target(f"t{n}", "0.3506") for n in range(100)]),
}  # fmt: skip


@pytest.mark.parametrize("body", SEARCHES.values(), ids=SEARCHES)
def test_a_search_that_is_meant_to_hurt_is_answered(client: Client, body: Json) -> None:
    """With whatever outcome: neither memory nor patience runs out."""
    response = client.post("/v1/stacks", json={**body, "time_limit_ms": 500})

    assert response.status_code == 200, response.text[:500]
    assert client.post("/v1/stacks", content=GOOD, headers=JSON).status_code == 200


def test_the_largest_request_is_answered(client: Client) -> None:
    """As many blocks and targets as the limits allow, in a moment or in the time limit."""
    blocks = [block(f"b{n}", f"{n % 100 + 1}.{n:04d}") for n in range(1000)]
    targets = [target(f"t{n}", f"{n + 1}.{n:04d}") for n in range(100)]

    response = client.post(
        "/v1/stacks", json=request(unit="mm", blocks=blocks, targets=targets, time_limit_ms=500)
    )

    assert response.status_code == 200, response.text[:500]
    assert len(response.json()["stacks"]) + len(response.json()["unmet"]) == 100


XML = {"Content-Type": "application/xml"}
CSV = {"Content-Type": "text/csv"}
LONG_NAMESPACE = b"n" * 500_000
DCC_HEAD = b'<d:digitalCalibrationCertificate xmlns:d="https://ptb.de/dcc" schemaVersion="3.2.0">'
COLUMNS = ",".join(f"c{n}" for n in range(200_000))
CERTIFICATES = {
    "long namespace": (XML, b'<r xmlns="' + LONG_NAMESPACE + b'">' + b"<a/>" * 120_000 + b"</r>"),
    "long prefixed namespace": (
        XML,
        b'<r xmlns:p="' + LONG_NAMESPACE + b'">' + b'<a p:b=""/>' * 40_000 + b"</r>",
    ),
    "long name": (XML, b"<" + b"a" * 1_000_000 + b"/>"),
    "many attributes": (XML, b"<r " + b" ".join(b'a%d=""' % n for n in range(90_000)) + b"/>"),
    "long attribute": (XML, b'<r a="' + b"x" * 1_000_000 + b'"/>'),
    "many elements": (XML, b"<r>" + b"<a/>" * 250_000 + b"</r>"),
    "deep": (XML, b"<a>" * 150_000),
    "entities": (XML, b'<!DOCTYPE r [<!ENTITY a "b">]><r>&a;</r>'),
    "many columns": (CSV, f"id,nominal,deviation,{COLUMNS[:1_000_000]}\n".encode()),
    "long column": (CSV, b"x" * 1_000_000),
    "many unknown members": (
        JSON,
        json.dumps({"blocks": [{f"n{n}": 0 for n in range(30_000)}]}).encode(),
    ),
    "long member": (JSON, json.dumps({"blocks": [], "x" * 900_000: 1}).encode()),
}


@pytest.mark.parametrize("case", CERTIFICATES)
def test_a_hostile_certificate_is_refused_in_few_words(client: Client, case: str) -> None:
    """What it says at length is not said back."""
    headers, body = CERTIFICATES[case]

    response = client.post("/v1/certificate-imports", content=body, headers=headers)

    assert (response.status_code, problem_name(response)) == (422, "invalid-certificate")
    assert len(response.content) < 20_000


@pytest.mark.parametrize(
    "body",
    [
        request(**{"x" * 900_000: 1}),
        request(**{f"n{n}": 1 for n in range(50_000)}),
        request(unit="x" * 900_000),
        request(blocks=[block("a", "1")] * 9_000),
        request(targets=[{"kind": "x" * 900_000}]),
        request(sets=[{"id": "s", "composition": "inch-81", "missing": ["1"] * 200_000}]),
        request(only=["x" * 128] * 7_000),
    ],
    ids=["name", "names", "value", "blocks", "kind", "missing", "only"],
)
def test_a_long_body_is_refused_in_few_words(client: Client, body: Json) -> None:
    """However long what is wrong in it."""
    response = client.post("/v1/stacks", json=body)

    assert response.status_code in (400, 413, 422)
    assert len(response.content) < 20_000


def test_a_list_of_a_certificate_is_not_read_to_its_end(client: Client) -> None:
    """240,000 values are refused before they become numbers."""
    values = b"1 " * 240_000
    body = (
        DCC_HEAD + b"<d:measurementResults><d:measurementResult><d:results><d:result><d:data>"
        b'<d:list xmlns:s="https://ptb.de/si"><d:quantity refType="gp_nominal">'
        b"<s:realListXMLList><s:valueXMLList>" + values + b"</s:valueXMLList><s:unitXMLList>"
        b"\\metre</s:unitXMLList></s:realListXMLList></d:quantity>"
        b'<d:quantity refType="gp_deviation"><s:realListXMLList><s:valueXMLList>1'
        b"</s:valueXMLList></s:realListXMLList></d:quantity></d:list></d:data></d:result>"
        b"</d:results></d:measurementResult></d:measurementResults>"
        b"</d:digitalCalibrationCertificate>"
    )

    response = client.post("/v1/certificate-imports", content=body, headers=XML)

    assert response.status_code == 422
    assert len(response.content) < 20_000


def test_a_long_path_is_not_said_back(client: Client) -> None:
    """Neither in the problem nor elsewhere."""
    assert len(client.get("/" + "x" * 10_000).content) < 3_000
