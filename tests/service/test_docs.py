"""The pages: everything they need comes from the service itself."""

import re

from service.conftest import Client


def test_docs_redirect_to_their_folder(client: Client) -> None:
    """A relative address, so that a prefix of a proxy is kept."""
    response = client.get("/docs", follow_redirects=False)

    assert (response.status_code, response.headers["location"]) == (308, "docs/")


def test_the_page_asks_for_nothing_from_elsewhere(client: Client) -> None:
    """Each address in it is relative and leads to something."""
    page = client.get("/docs/")

    asked = re.findall(r'(?:src|href)="([^"]+)"', page.text)
    assert page.headers["content-type"].startswith("text/html")
    for address in asked:
        assert not address.startswith(("http", "//")), address
        if not address.startswith("data:"):
            assert client.get(f"/docs/{address}").status_code == 200, address


def test_the_policy_allows_own_scripts_only(client: Client) -> None:
    """Were an asset to ask for more, the browser would refuse."""
    policy = client.get("/docs/").headers["content-security-policy"]

    assert "default-src 'self'" in policy
    assert "script-src" not in policy
    assert "http" not in policy


def test_the_licence_of_the_pages_is_served_with_them(client: Client) -> None:
    """Apache-2.0 asks for it."""
    assert "Apache License" in client.get("/docs/LICENSE").text
    assert client.get("/docs/NOTICE").status_code == 200
