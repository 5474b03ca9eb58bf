"""Reads the pages of the tool crib, and sends the forms that stand in them."""

from html.parser import HTMLParser
from typing import Any

from httpx import Response
from litestar.testing import TestClient

HALL = "/v1/sites/north-hall"
PAGE = "/crib/north-hall"
OWN = {"Sec-Fetch-Site": "same-origin"}


class Reader(HTMLParser):
    """What a page says, cell by cell, and which forms it has."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.texts: list[str] = []
        self.cells: dict[str, str] = {}
        self.forms: list[tuple[str, list[tuple[str, str]]]] = []
        self.addresses: list[str] = []
        self.feed(html)

    def texts_with(self, words: str) -> list[str]:
        """What it says with these words in it."""
        return [text for text in self.texts if words in text]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {key: value or "" for key, value in attrs}
        self.addresses += [given[k] for k in ("href", "src", "action") if k in given]
        assert "style" not in given, "the policy of content refuses it"
        if tag == "a" and given.get("class", "").startswith("cell "):
            name, _, state = given["title"].partition(": ")
            self.cells[name.rpartition("/")[2]] = state
        if tag == "form":
            self.forms.append((given["action"], []))
        if tag == "input" and self.forms:
            self.forms[-1][1].append((given["name"], given.get("value", "")))

    def handle_data(self, data: str) -> None:
        if data.strip():
            self.texts.append(" ".join(data.split()))


Client = TestClient[Any]


def look(client: Client, path: str = PAGE, **headers: str) -> Reader:
    answer = client.get(path, headers={"Accept": "text/html", **headers})
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "text/html; charset=utf-8"
    assert "default-src 'none'" in answer.headers["content-security-policy"]
    page = Reader(answer.text)
    assert not [each for each in page.addresses if "//" in each], "nothing from elsewhere"
    return page


def send(client: Client, form: tuple[str, list[tuple[str, str]]], **headers: str) -> Response:
    path, fields = form
    body: dict[str, list[str]] = {}
    for name, value in fields:
        body.setdefault(name, []).append(value)
    return client.post(path, data=body, headers=headers or OWN, follow_redirects=False)


def do(client: Client, what: str, **body: object) -> None:
    answer = client.post(f"{HALL}/{what}", json=body)
    assert answer.status_code == 200, answer.text
