"""Who may do what: keys, tokens, scopes, sites and rates."""

import base64
import json
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, HTTPServer
from typing import Any

import jwt
import pytest
from click.testing import CliRunner
from cryptography.hazmat.primitives.asymmetric import rsa
from litestar.testing import TestClient

from service.conftest import LogBook
from store.rows import add_site
from wrung_service.app import Service, create_app
from wrung_service.commands.group import command_line
from wrung_service.observe.logs import make_log
from wrung_service.settings import Settings
from wrung_service.settings_reading import SettingsError, read_settings
from wrung_service.store.engine import Store
from wrung_service.store.errors import StateError
from wrung_service.usecases.keys import WantedKey, make_key, revoke_key
from wrung_service.usecases.scopes import Scope, allowed_by

NOW = datetime(2027, 3, 1, 8, tzinfo=UTC)
QUESTION = {
    "unit": "mm",
    "blocks": [{"id": "a", "nominal": "5", "limit_deviation": "0.2"}],
    "targets": [{"kind": "length", "ref": "op10", "length": "5"}],
}


def key(store: Store, *scopes: Scope, site: str | None = None, days: int | None = None) -> str:
    ends = None if days is None else NOW + timedelta(days=days)
    holder = f"erp of {site} {' '.join(scopes)} {days}"
    wanted = WantedKey(holder=holder, scopes=scopes, site=site, expires_at=ends)
    return make_key(store, wanted, by="a test", now=NOW).text


def asking(store: Store, requests_per_minute: int = 600) -> TestClient[Any]:
    wanted = Settings(solve_workers=1, access="required", requests_per_minute=requests_per_minute)
    return TestClient(create_app(wanted, store=store, clock=lambda: NOW).edge)


def bearer(text: str) -> dict[str, str]:
    return {"Authorization": f"Bearer {text}"}


@pytest.fixture
def shop(store: Store) -> Store:
    with store.writing() as connection:
        add_site(connection, "north-hall")
        add_site(connection, "south-hall")
    return store


@pytest.fixture
def one_minute(monkeypatch: pytest.MonkeyPatch) -> None:
    """All that is counted falls into one minute, not on both sides of its end."""
    middle = time.time() // 60 * 60 + 30
    monkeypatch.setattr(time, "time", lambda: middle)


def test_without_a_key_nothing_is_answered_but_pages_and_probes(shop: Store) -> None:
    """An orchestrator has no key, and a guide holds nothing of anybody's."""
    with asking(shop) as client:
        refused = client.post("/v1/stacks", json=QUESTION)
        assert (refused.status_code, refused.headers["WWW-Authenticate"]) == (401, "Bearer")
        assert client.get("/v1/limits").status_code == 401
        for path in ("/livez", "/readyz", "/guide/", "/openapi.json", "/problems", "/"):
            assert client.get(path).status_code == 200, path


def test_a_key_opens_what_its_scopes_allow(shop: Store) -> None:
    """Whoever may only keep the crib may read as well."""
    with asking(shop) as client:
        for scope in ("read", "plan", "crib", "admin"):
            answer = client.post("/v1/stacks", json=QUESTION, headers=bearer(key(shop, scope)))
            assert answer.status_code == 200, answer.text
        wrong = key(shop, "read")[:-1] + "!"
        for text in ("nonsense", "wrung_aaaaaaaa_" + "x" * 43, wrong, "ü"):
            sent = {b"Authorization": f"Bearer {text}".encode()}
            refused = client.get("/v1/limits", headers=sent)
            assert refused.status_code == 401
            assert "invalid_token" in refused.headers["WWW-Authenticate"]


def test_a_scope_contains_reading_and_admin_contains_all() -> None:
    assert allowed_by("plan") == {"plan", "read"}
    assert allowed_by("crib nonsense") == {"crib", "read"}
    assert allowed_by("admin") == {"read", "plan", "crib", "admin"}
    assert allowed_by("Admin") == allowed_by("") == frozenset()


def test_keys_end_when_they_expire_and_when_they_are_revoked(shop: Store) -> None:
    text = key(shop, "read")
    with asking(shop) as client:
        assert (
            client.get("/v1/limits", headers=bearer(key(shop, "read", days=0))).status_code == 401
        )
        assert client.get("/v1/limits", headers=bearer(text)).status_code == 200
        revoke_key(shop, text.split("_")[1], by="a test", now=NOW)
        assert client.get("/v1/limits", headers=bearer(text)).status_code == 401


def test_a_holder_has_two_valid_keys_at_most(shop: Store) -> None:
    """Two, so that one can take over from the other; more would be forgotten somewhere."""
    wanted = WantedKey(holder="erp", scopes=("read",))
    first, second = (make_key(shop, wanted, by="a test", now=NOW) for _ in range(2))
    with pytest.raises(StateError, match="2 valid keys"):
        make_key(shop, wanted, by="a test", now=NOW)
    revoke_key(shop, first.stored.id, by="a test", now=NOW)
    third = make_key(shop, wanted, by="a test", now=NOW)
    with asking(shop) as client:
        for made in (second, third):
            assert client.get("/v1/limits", headers=bearer(made.text)).status_code == 200


def test_the_store_has_no_key_and_history_tells_of_it(shop: Store) -> None:
    text = key(shop, "plan", site="north-hall")
    with shop.reading() as connection:
        rows = connection.exec_driver_sql("SELECT * FROM api_key").all()
        events = connection.exec_driver_sql("SELECT site_id, what FROM history").all()
    assert text not in str(rows)
    assert text.split("_", 2)[2] not in str(rows)
    assert [tuple(each) for each in events] == [("north-hall", "key.made")]


def test_a_key_of_one_site_sees_no_crib_of_another(shop: Store) -> None:
    """The answer is the one for a site that is not there; only its own is said to be near."""
    own = bearer(key(shop, "read", site="north-hall"))
    with asking(shop) as client:
        said = {}
        for site in ("south-hall", "sooth-hall", "north-hall"):
            asked = {k: v for k, v in QUESTION.items() if k != "blocks"} | {"crib": {"site": site}}
            said[site] = client.post("/v1/stacks", json=asked, headers=own)
    assert said["north-hall"].status_code == 200, said["north-hall"].text
    other, none = (said[site].json()["detail"] for site in ("south-hall", "sooth-hall"))
    assert said["south-hall"].status_code == said["sooth-hall"].status_code == 422
    assert other.replace("south-hall", "") == none.replace("sooth-hall", "")
    assert "nearest known is north-hall" in none


class TestCalendar:
    """Calendar programs can send a name and a password (RFC 7617), but no key of their own."""

    PATH = "/v1/sites/north-hall/calibration-due?calendar=true"

    def test_a_key_opens_it_as_the_password_of_any_name(self, shop: Store) -> None:
        own, other = (key(shop, "read", site=site) for site in ("north-hall", "south-hall"))
        with asking(shop) as client:
            asked = client.get(self.PATH)
            assert asked.status_code == 401
            assert asked.headers["WWW-Authenticate"] == 'Basic realm="wrung", charset="UTF-8"'
            for name in ("", "anna", "änne"):
                answer = client.get(self.PATH, auth=(name.encode(), own))
                assert answer.status_code == 200, answer.text
            assert client.get(self.PATH, headers=bearer(own)).status_code == 200
            assert client.get(self.PATH, auth=("a", other)).status_code == 404

    def test_nothing_else_takes_a_password(self, shop: Store) -> None:
        """Browsers keep it and send it along, whoever made them ask."""
        admin = ("a", key(shop, "admin"))
        with asking(shop) as client:
            for path in ("/v1/limits", "/v1/sites/north-hall/inventory", "/crib/north-hall"):
                refused = client.get(path, auth=admin)
                assert refused.status_code == 401, path
                assert refused.headers["WWW-Authenticate"] == "Bearer"
            assert client.post("/v1/stacks", json=QUESTION, auth=admin).status_code == 401

    @pytest.mark.usefixtures("one_minute")
    def test_what_is_no_key_is_refused_and_counted(self, shop: Store) -> None:
        with asking(shop, requests_per_minute=6) as client:
            wrong = "a:wrung_aaaaaaaa_" + "x" * 43
            sent = [base64.b64encode(each.encode()).decode() for each in (wrong, "a", "a:", "ü:ü")]
            answers = [
                client.get(self.PATH, headers={"Authorization": f"Basic {each}"})
                for each in (*sent, "", "!", "/w==", "A" * 9000)
            ]
            assert {each.status_code for each in answers} == {401}
            assert all(each.headers["WWW-Authenticate"].startswith("Basic ") for each in answers)
            guesses = [client.get(self.PATH, auth=("a", "guess")).status_code for _ in range(5)]
            assert guesses[-1] == 429


@pytest.mark.usefixtures("one_minute")
def test_too_many_requests_are_told_when_to_come_again(shop: Store) -> None:
    first, second = bearer(key(shop, "read")), bearer(key(shop, "plan"))
    with asking(shop, requests_per_minute=3) as client:
        answers = [client.get("/v1/limits", headers=first) for _ in range(4)]
        assert [each.status_code for each in answers] == [200, 200, 200, 429]
        assert 1 <= int(answers[-1].headers["Retry-After"]) <= 60
        assert client.get("/v1/limits", headers=second).status_code == 200
        wrong = [client.get("/v1/limits", headers=bearer("guess")).status_code for _ in range(4)]
        assert wrong == [401, 401, 401, 429]


def test_no_secret_reaches_the_log(shop: Store, log_book: LogBook) -> None:
    """Lines name the holder instead."""
    good, bad = key(shop, "read"), "wrung_aaaaaaaa_" + "s" * 43
    settings = Settings(solve_workers=1, access="required")
    app = create_app(settings, store=shop, log=make_log(log_book.stream), clock=lambda: NOW)
    with TestClient(app.edge) as client:
        client.get("/v1/limits", headers=bearer(good))
        client.get("/v1/limits", headers=bearer(bad))
        client.get(f"/v1/compositions/{good}", headers=bearer(good))
        client.get("/v1/limits", headers={**bearer(good), "X-Request-ID": good})
        client.get(f"/v1/sites?site={good}", headers={**bearer(good), "Cookie": good})
        client.post(f"/v1/plans?key={good}", headers=bearer(good), json={good: good})
    written = json.dumps(log_book.lines("request"))
    assert "erp of None read None" in written
    assert good.split("_", 2)[2] not in written
    assert "s" * 43 not in written


def test_a_store_on_a_public_address_needs_access_control_or_a_word() -> None:
    """A stateless service only warns."""
    public = {"bind_host": "0.0.0.0", "store_url": "sqlite:///crib.db"}  # noqa: S104 - only read
    with pytest.raises(SettingsError, match="--access"):
        read_settings({}, public)
    assert read_settings({}, {**public, "access": "required"}).access == "required"
    assert read_settings({}, {**public, "access": "off"}).access == "off"
    assert read_settings({}, {"bind_host": "0.0.0.0"}).access == ""  # noqa: S104 - only read


@pytest.mark.parametrize(
    "flags",
    [
        {"access": "required"},
        {"access": "maybe"},
        {"oauth_issuer": "https://login.example"},
        {
            "access": "required",
            "oauth_issuer": "https://login.example",
            "oauth_audience": "wrung",
            "oauth_jwks_url": "http://login.example/keys",
        },
    ],
)
def test_settings_that_would_let_nobody_or_anybody_in_are_refused(flags: dict[str, str]) -> None:
    with pytest.raises(SettingsError):
        read_settings({}, flags)


class Issuer:
    """An issuer of tokens on loopback."""

    def __init__(self, url: str, private: rsa.RSAPrivateKey) -> None:
        self.url, self._private = url, private

    def token(self, **claims: object) -> str:
        said: dict[str, object] = {
            "iss": "https://login.example",
            "aud": "wrung",
            "sub": "mes",
            "scope": "read",
        }
        said |= {"exp": time.time() + 60, **claims}
        return jwt.encode(said, self._private, algorithm="RS256", headers={"kid": "one"})


@contextmanager
def served(handler: type[BaseHTTPRequestHandler]) -> Iterator[str]:
    """The address of keys on loopback."""
    with HTTPServer(("127.0.0.1", 0), handler) as server:
        thread = threading.Thread(target=server.serve_forever)
        thread.start()
        yield f"http://127.0.0.1:{server.server_port}/keys"
        server.shutdown()
        thread.join()


@pytest.fixture
def issuer() -> Iterator[Issuer]:
    private = rsa.generate_private_key(public_exponent=65537, key_size=2048)
    public = jwt.algorithms.RSAAlgorithm.to_jwk(private.public_key(), as_dict=True)
    keys = json.dumps({"keys": [{**public, "kid": "one", "use": "sig", "alg": "RS256"}]}).encode()

    class Keys(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.send_response(200)
            self.end_headers()
            self.wfile.write(keys)

        def log_message(self, *_: object) -> None:
            """Say nothing."""

    with served(Keys) as url:
        yield Issuer(url, private)


def believing(url: str) -> Service:
    settings = Settings(
        solve_workers=1,
        access="required",
        oauth_issuer="https://login.example",
        oauth_jwks_url=url,
        oauth_audience="wrung",
    )
    return create_app(settings)


def test_tokens_of_the_issuer_open_what_they_say(issuer: Issuer) -> None:
    """OAuth 2.0 client credentials: RFC 6749, 4.4; claims as in RFC 9068, 2.2."""
    with TestClient(believing(issuer.url).edge) as client:

        def status(**claims: object) -> int:
            return client.get("/v1/limits", headers=bearer(issuer.token(**claims))).status_code

        assert status() == 200
        assert status(scope="plan") == 200
        assert status(scope="") == 403
        assert status(exp=time.time() - 120) == 401
        assert status(aud="another") == 401
        assert status(iss="https://other.example") == 401
        unsigned = jwt.encode({"sub": "mes"}, "", algorithm="none", headers={"kid": "one"})
        shared = jwt.encode({"sub": "mes"}, "k" * 64, algorithm="HS256", headers={"kid": "one"})
        for text in (unsigned, shared, issuer.token()[:-4]):
            assert client.get("/v1/limits", headers=bearer(text)).status_code == 401


def test_an_issuer_that_is_gone_is_no_fault_of_the_caller(issuer: Issuer) -> None:
    gone = believing("http://127.0.0.1:9/keys")
    with TestClient(gone.edge) as client:
        answer = client.get("/v1/limits", headers=bearer(issuer.token()))
        assert (answer.status_code, answer.headers["Retry-After"]) == (503, "10")


def test_an_issuer_that_sends_no_keys_is_not_asked_again_at_once() -> None:
    asked = list[str]()

    class Page(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            asked.append(self.path)
            self.send_response(200)
            self.end_headers()
            self.wfile.write(b"<p>Down for maintenance</p>")

        def log_message(self, *_: object) -> None:
            """Say nothing."""

    token = jwt.encode({"sub": "mes"}, "k" * 64, algorithm="HS256", headers={"kid": "one"})
    with served(Page) as url, TestClient(believing(url).edge) as client:
        answers = [client.get("/v1/limits", headers=bearer(token)) for _ in range(3)]
    assert [each.status_code for each in answers] == [503] * 3
    assert asked == ["/keys"]


def test_the_command_makes_lists_and_ends_keys(shop: Store, store_url: str) -> None:
    run = CliRunner().invoke
    at = ["--store-url", store_url]
    made = run(command_line, ["keys", "add", *at, "--holder", "erp", "--scope", "read"])
    assert made.exit_code == 0, made.output
    text = made.output.strip()
    with asking(shop) as client:
        assert client.get("/v1/limits", headers=bearer(text)).status_code == 200
    listed = run(command_line, ["keys", "list", *at]).output
    assert "erp" in listed
    assert text not in listed
    assert run(command_line, ["keys", "revoke", *at, text.split("_")[1]]).exit_code == 0
    assert "ended" in run(command_line, ["keys", "list", *at]).output
    assert run(command_line, ["keys", "revoke", *at, "zzzzzzzz"]).exit_code == 2
    add = ["keys", "add", *at, "--holder", "x", "--scope", "read", "--site", "nowhere"]
    assert run(command_line, add).exit_code == 2
