"""Keys on the pages of the tool crib: asked for once, kept apart from the API, and sites apart."""

from collections.abc import Iterator

import pytest
from httpx import Response
from litestar.testing import TestClient

from service.crib_reader import HALL, PAGE, Client, Reader, look, send
from store.rows import START, add_block, add_site
from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.store.engine import Store
from wrung_service.usecases.keys import WantedKey, make_key
from wrung_service.usecases.scopes import Scope


class TestWithKeys:
    @pytest.fixture
    def shop(self, store: Store) -> Iterator[Client]:
        with store.writing() as connection:
            add_site(connection, "north-hall", "own")
            add_site(connection, "south-hall", "secret")
            add_block(connection, "gone", condition="missing")
        settings = Settings(solve_workers=1, access="required", requests_per_minute=0)
        app = create_app(settings, store=store, clock=lambda: START)
        with TestClient(app.edge) as client:
            yield client

    def sign_in(self, client: Client, store: Store, scope: Scope, site: str | None) -> Response:
        wanted = WantedKey(holder=f"{scope} of {site}", scopes=(scope,), site=site)
        text = make_key(store, wanted, by="a test", now=START).text
        return send(client, ("/crib-key", [("key", text), ("back", PAGE)]))

    def test_a_key_is_asked_for_once_and_can_be_forgotten(self, shop: Client, store: Store) -> None:
        asked = shop.get(PAGE)
        assert asked.status_code == 401
        page = Reader(asked.text)
        assert page.forms[0] == ("/crib-key", [("back", PAGE), ("key", "")])

        answer = self.sign_in(shop, store, "read", "north-hall")

        assert (answer.status_code, answer.headers["location"]) == (303, PAGE)
        kept = answer.headers["set-cookie"]
        assert all(each in kept for each in ("HttpOnly", "SameSite=Strict", "Path=/crib"))
        assert look(shop, PAGE)
        # The API takes no cookie: a browser would send it, whoever made it ask.
        assert shop.get(f"{HALL}/blocks").status_code == 401
        forget = next(each for each in look(shop, PAGE).forms if each[0] == "/crib-key")
        send(shop, forget)
        assert shop.get(PAGE).status_code == 401

    def test_a_wrong_key_is_said_to_be_wrong(self, shop: Client) -> None:
        for text in ("nonsense", "wrung_aaaaaaaa_" + "x" * 43):
            send(shop, ("/crib-key", [("key", text)]))
            refused = shop.get(PAGE)
            assert refused.status_code == 401
            assert "not valid, or no longer" in refused.text
        for odd in ("a; Path=/", "\r\nX: y", "ü", ""):
            answer = send(shop, ("/crib-key", [("key", odd)]))
            assert answer.headers["set-cookie"].startswith("wrung_key=;"), odd

    def test_nobody_is_led_elsewhere(self, shop: Client) -> None:
        for path in ("//elsewhere.example", "https://elsewhere.example/crib", "/crib//x", "/docs"):
            answer = send(shop, ("/crib-key", [("key", "a"), ("back", path)]))
            assert answer.headers["location"].partition("?")[0] in {"/crib", "/crib//x"}

    def test_whoever_may_only_read_changes_nothing(self, shop: Client, store: Store) -> None:
        self.sign_in(shop, store, "read", "north-hall")
        assert {each[0] for each in look(shop).forms} == {"/crib-key"}
        form = [("block", "gone"), ("condition", "fit")]
        assert send(shop, (f"{PAGE}/condition-changes", form)).status_code == 403

        self.sign_in(shop, store, "crib", "north-hall")
        assert send(shop, (f"{PAGE}/condition-changes", form)).status_code == 303

    def test_sites_never_see_one_another(self, shop: Client, store: Store) -> None:
        self.sign_in(shop, store, "admin", "north-hall")
        sites = look(shop, "/crib")
        assert "south-hall" not in sites.texts
        for path in PATHS:
            other = shop.get(path.format("south-hall"))
            nowhere = shop.get(path.format("nowhere"))
            assert other.status_code == nowhere.status_code == 404
            assert other.text.replace("south-hall", "") == nowhere.text.replace("nowhere", "")
        form = [("block", "secret"), ("condition", "missing")]
        for what in ("returns", "condition-changes"):
            assert send(shop, (f"/crib/south-hall/{what}", form)).status_code == 404


PATHS = (
    "/crib/{}",
    "/crib/{}?set=secret",
    "/crib/{}/blocks/secret",
    "/crib/{}/import",
    "/crib/{}/coverage",
    "/crib/{}/coverage?start=1&stop=2&step=1",
)
