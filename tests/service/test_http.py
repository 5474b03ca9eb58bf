"""Manners of HTTP that save both sides work, or let a browser or a proxy in between."""

import asyncio
import gzip
from typing import Any

import pytest
from litestar.testing import TestClient

from service.bodies import request
from service.conftest import Client, LogBook, Start
from wrung_service.app import create_app
from wrung_service.server import config_of
from wrung_service.settings import Settings

KEPT = ["/", "/v1/limits", "/v1/compositions", "/v1/compositions/inch-81", "/v1/grades"]
KEPT += ["/v1/materials", "/v1/tapers", "/problems", "/problems/busy", "/openapi.json", "/docs/"]
KEPT += ["/docs/swagger-ui.css", "/guide/", "/guide/lengths", "/guide/style.css"]
KEPT += ["/guide/drawings/sine.svg"]
TRACE = "4bf92f3577b34da6a3ce929d0e0e4736"
PARENT = "00f067aa0ba902b7"


@pytest.mark.parametrize("path", KEPT)
def test_what_the_client_has_is_not_sent_again(client: Client, path: str) -> None:
    """RFC 9110, 13.1.2 and 15.4.5: with the headers that 200 would have."""
    first = client.get(path)
    tag = first.headers["etag"]

    for named in (tag, tag.removeprefix("W/"), f'"other", {tag}', "*"):
        again = client.get(path, headers={"If-None-Match": named})
        assert (again.status_code, again.content) == (304, b""), named
        assert again.headers["etag"] == tag
        assert again.headers["cache-control"] == first.headers["cache-control"]
        assert again.headers.get("vary") == first.headers.get("vary")
    assert client.head(path, headers={"If-None-Match": tag}).status_code == 304
    assert client.get(path, headers={"If-None-Match": '"other"'}).status_code == 200


def test_other_content_has_another_tag(start: Start) -> None:
    """Also between instances: what the settings change is asked for each time."""
    one, other = start(), start(max_blocks=7)

    for path in ("/v1/limits", "/openapi.json"):
        assert one.get(path).headers["cache-control"] == "no-cache"
        tag = one.get(path).headers["etag"]
        assert other.get(path, headers={"If-None-Match": tag}).status_code == 200


def test_long_answers_are_packed_if_the_client_can_unpack(client: Client) -> None:
    with client.stream("GET", "/openapi.json", headers={"Accept-Encoding": "gzip"}) as packed:
        raw = b"".join(packed.iter_raw())
        assert packed.headers["content-encoding"] == "gzip"
        assert int(packed.headers["content-length"]) == len(raw)
        assert "Accept-Encoding" in packed.headers["vary"]
    plain = client.get("/openapi.json", headers={"Accept-Encoding": "identity"})
    assert "content-encoding" not in plain.headers
    assert gzip.decompress(raw) == plain.content
    assert len(raw) < len(plain.content) / 4


def test_answers_and_problems_are_packed_too(client: Client) -> None:
    answer = client.post("/v1/stacks", json={**request(), "handwork": True})
    assert answer.headers["content-encoding"] == "gzip"
    problem = client.post("/v1/stacks", json={f"member_{n}": 0 for n in range(20)})
    assert (problem.status_code, len(problem.content) > 1024) == (400, True)
    assert problem.headers["content-encoding"] == "gzip"
    assert "content-encoding" not in client.get("/livez").headers


@pytest.mark.parametrize(
    ("accept", "html"),
    [
        ("text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8", True),
        ("*/*", False),
        ("application/json", False),
        (None, False),
        ("application/json;q=0.5, text/html;q=0.9", True),
    ],
)
def test_the_start_leads_people_to_pages_and_programs_to_links(
    client: Client, accept: str | None, html: object
) -> None:
    headers = {"Accept": accept} if accept else {"Accept": ""}
    start = client.get("/", headers=headers, follow_redirects=False)

    assert "Accept" in start.headers["vary"].split(", ")
    if html:
        assert start.headers["content-type"].startswith("text/html")
        return
    for link in start.json()["links"]:
        status = client.get(f"/{link['href']}").status_code
        assert status == (405 if "POST" in link["title"] else 200), link


def test_the_trace_is_in_the_log(start: Start, log_book: LogBook) -> None:
    """W3C Trace Context: what is malformed is ignored."""
    client = start()
    client.get("/v1/limits", headers={"traceparent": f"00-{TRACE}-{PARENT}-01"})
    assert log_book.lines()[-1]["trace_id"] == TRACE
    assert log_book.lines()[-1]["parent_id"] == PARENT
    for malformed in (
        f"00-{'0' * 32}-{PARENT}-01",
        f"00-{TRACE}-{'0' * 16}-01",
        f"ff-{TRACE}-{PARENT}-01",
        f"00-{TRACE.upper()}-{PARENT}-01",
        f"00-{TRACE}-{PARENT}-01-more",
        "x",
    ):
        client.get("/v1/limits", headers={"traceparent": malformed})
        assert "trace_id" not in log_book.lines()[-1], malformed
    client.get("/v1/limits", headers={"traceparent": f"01-{TRACE}-{PARENT}-01-more"})
    assert log_book.lines()[-1]["trace_id"] == TRACE


def preflight(client: Client, origin: str) -> Any:  # noqa: ANN401 - a response
    """What a browser asks before it posts JSON."""
    headers = {
        "Origin": origin,
        "Access-Control-Request-Method": "POST",
        "Access-Control-Request-Headers": "content-type",
    }
    return client.options("/v1/stacks", headers=headers)


def test_pages_from_elsewhere_are_let_in_by_a_setting_only(client: Client) -> None:
    asked = preflight(client, "https://erp.example")
    assert asked.headers["allow"] == "OPTIONS, POST"
    assert not [name for name in asked.headers if name.startswith("access-control")]
    answer = client.get("/v1/limits", headers={"Origin": "https://erp.example"})
    assert "access-control-allow-origin" not in answer.headers


def test_the_origins_of_the_setting_are_let_in() -> None:
    settings = Settings(solve_workers=1, cors_origins="https://erp.example, https://mes.example")
    with TestClient(create_app(settings)) as client:
        for origin in settings.origins:
            asked = preflight(client, origin)
            assert asked.status_code == 204
            assert asked.headers["access-control-allow-origin"] == origin
            answer = client.get("/v1/compositions", headers={"Origin": origin})
            assert answer.headers["access-control-allow-origin"] == origin
            assert answer.headers["vary"] == "Accept-Encoding, Origin"
            refused = client.post("/v1/stacks", json={}, headers={"Origin": origin})
            assert refused.headers["access-control-allow-origin"] == origin
        assert preflight(client, "https://other.example").status_code == 400
        answer = client.get("/v1/limits", headers={"Origin": "https://other.example"})
        assert "access-control-allow-origin" not in answer.headers


def client_seen(settings: Settings) -> str:
    """Whom the service takes for its client, where 10.0.0.9 sends on a request of 192.0.2.7."""
    seen: list[str] = []

    async def service(scope: Any, _: object, __: object) -> None:  # noqa: ANN401 - ASGI
        seen.append(scope["client"][0])

    config = config_of(service, settings)
    config.load()
    scope = {
        "type": "http",
        "client": ("10.0.0.9", 4711),
        "headers": [(b"x-forwarded-for", b"192.0.2.7")],
    }
    asyncio.run(config.loaded_app(scope, None, None))
    return seen[0]


@pytest.mark.parametrize(
    ("proxies", "seen"),
    [
        ("", "10.0.0.9"),
        ("10.0.0.9", "192.0.2.7"),
        ("10.0.0.0/24, 10.2.0.1", "192.0.2.7"),
        ("10.1.0.0/24", "10.0.0.9"),
    ],
)
def test_the_word_of_a_proxy_counts_if_it_is_trusted(proxies: str, seen: str) -> None:
    """The client's address is the one that searches are shared out by, see `api.clients`."""
    assert client_seen(Settings(solve_workers=1, trusted_proxies=proxies)) == seen


@pytest.mark.parametrize(
    "path",
    ["/v1/limits", "/livez", "/metrics", "/nowhere", "/", "/docs/", "/guide/", "/openapi.json"],
)
def test_every_answer_says_what_a_browser_may_do_with_it(client: Client, path: str) -> None:
    """Nothing from elsewhere, and no frame around it; whether it is a page or not."""
    headers = client.get(path, headers={"Accept": "text/html"}).headers
    assert headers.get_list("x-content-type-options") == ["nosniff"]
    [policy] = headers.get_list("content-security-policy")
    assert "default-src 'none'" in policy or "default-src 'self'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "http" not in policy
