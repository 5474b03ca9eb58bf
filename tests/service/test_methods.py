"""Methods, media types and addresses."""

import pytest

from service.bodies import problem_name, request
from service.conftest import Client
from wrung_service.api.problem_types import CATALOGUE

GETS = ["/v1/limits", "/v1/compositions", "/v1/compositions/inch-81", "/v1/grades"]
GETS += ["/v1/materials", "/v1/tapers", "/problems", "/problems/busy", "/livez", "/readyz", "/"]
GETS += ["/openapi.json"]


@pytest.mark.parametrize("path", [*GETS, "/docs/"])
def test_head_is_get_without_its_body(client: Client, path: str) -> None:
    """RFC 9110, 9.3.2: the same headers, the length of the body among them."""
    get, head = client.get(path), client.head(path)

    assert (head.status_code, head.content) == (200, b"")
    for name in ("content-type", "content-length"):
        assert head.headers[name] == get.headers[name]


@pytest.mark.parametrize("path", GETS)
def test_options_and_405_name_every_method_of_a_resource(client: Client, path: str) -> None:
    """RFC 9110, 10.2.1 and 15.5.6."""
    options, refused = client.options(path), client.delete(path)

    assert (options.status_code, refused.status_code) == (204, 405)
    assert problem_name(refused) == "method-not-allowed"
    for response in (options, refused):
        allowed = set(response.headers["allow"].split(", "))
        assert allowed == {"GET", "HEAD", "OPTIONS"}


@pytest.mark.parametrize("method", ["GET", "HEAD", "PUT", "PATCH", "DELETE", "TRACE", "BREW"])
def test_stacks_can_only_be_posted(client: Client, method: str) -> None:
    """Whatever else is tried, known or not."""
    response = client.request(method, "/v1/stacks")

    assert response.status_code == 405
    assert set(response.headers["allow"].split(", ")) == {"POST", "OPTIONS"}


@pytest.mark.parametrize(
    ("content_type", "encoding"),
    [
        (None, None),
        ("text/xml", None),
        ("application/x-www-form-urlencoded", None),
        ("application/json; charset=utf-16", None),
        ("application/json", "gzip"),
        ("application/problem+json", None),
    ],
)
def test_other_media_types_are_refused(
    client: Client, content_type: str | None, encoding: str | None
) -> None:
    """415 says what would be accepted (RFC 9110, 15.5.16)."""
    headers = {"Content-Type": content_type, "Content-Encoding": encoding}
    given = {name: value for name, value in headers.items() if value}

    response = client.post("/v1/stacks", content=b"{}", headers=given)

    assert (response.status_code, problem_name(response)) == (415, "unsupported-media-type")
    assert response.headers["accept-post"] == "application/json"


@pytest.mark.parametrize("path", [*GETS[:-1], "/v1/stacks"])
@pytest.mark.parametrize("query", ["limt=3", "a=1&a=2", "=", "x"])
def test_unknown_query_parameters_are_refused(client: Client, path: str, query: str) -> None:
    """A slip such as `limt` must not be ignored in silence."""
    method = "POST" if path == "/v1/stacks" else "GET"

    response = client.request(
        method, f"{path}?{query}", json=request() if method == "POST" else None
    )

    assert (response.status_code, problem_name(response)) == (400, "unknown-parameter")


@pytest.mark.parametrize("path", ["/v1", "/v1/stacks/x", "/v1/compositions/..%2f", "/docs/x"])
def test_other_addresses_are_not_found(client: Client, path: str) -> None:
    """As a problem, too."""
    response = client.get(path)

    assert (response.status_code, problem_name(response)) == (404, "not-found")


def test_a_trailing_slash_is_ignored(client: Client) -> None:
    """As the document says."""
    assert client.post("/v1/stacks/", json=request()).status_code == 200


def test_an_invalid_host_is_a_problem(client: Client) -> None:
    """What the framework refuses looks like what we refuse."""
    response = client.get("/v1/limits", headers={"Host": "a b/c"})

    assert (response.status_code, problem_name(response)) == (400, "bad-request")


def test_every_answer_forbids_to_guess_its_type(client: Client) -> None:
    """Also the refusals."""
    for path in ("/v1/limits", "/nowhere", "/docs/"):
        assert client.get(path).headers["x-content-type-options"] == "nosniff"


def test_each_problem_type_leads_to_its_description(client: Client) -> None:
    """The `type` of a problem is an address of the service itself."""
    listed = client.get("/problems").json()["problems"]

    assert [each["type"] for each in listed] == [kind.uri for kind in CATALOGUE]
    for each in listed:
        assert client.get(each["type"]).json() == each
    assert client.get("/problems/unheard-of").status_code == 404
