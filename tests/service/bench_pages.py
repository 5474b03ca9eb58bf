"""Reads the pages for people at the bench as a browser without scripts does."""

from html.parser import HTMLParser
from urllib.parse import urlencode

from service.conftest import Client

PAGE = {"Accept": "text/html,*/*;q=0.8"}
SHELF = (("unit", "in"), ("set", "A~inch-81~AS-1"))


class Reader(HTMLParser):
    """Texts, addresses and form values of a page."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.texts: list[str] = []
        self.addresses: list[str] = []
        self.values: list[tuple[str, str]] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        self.addresses += [v for k, v in attrs if k in {"href", "src", "action"} and v]
        checked = given.get("type") not in {"checkbox", "radio"} or "checked" in given
        if tag == "input" and checked:
            self.values.append((given.get("name") or "", given.get("value") or ""))

    def handle_data(self, data: str) -> None:
        self.texts.append(data.strip())


def look(client: Client, *pairs: tuple[str, str]) -> Reader:
    response = client.get(f"/?{urlencode(pairs)}", headers=PAGE)
    assert response.status_code == 200, response.text
    return Reader(response.text)
