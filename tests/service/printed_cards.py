"""Cards as they are printed, and what can be read off them."""

import io
from typing import Any

from PIL import Image
from pypdf import PageObject, PdfReader

from service.conftest import Client

MM = 72 / 25.4
PAPERS = {
    "a6": (105, 148),
    "half-letter": (139.7, 215.9),
    "a4": (210, 297),
    "letter": (215.9, 279.4),
    "sheet-a4": (210, 297),
    "sheet-letter": (215.9, 279.4),
}


def traveller(count: int = 5, **members: object) -> dict[str, Any]:
    """Operations one after another, from one metric set."""
    targets = [
        {"ref": f"op{10 * n}", "kind": "length", "length": f"{20 + n}.{n:02}5"}
        for n in range(1, count + 1)
    ]
    sets = [{"id": "M", "composition": "metric-112-1", "grade": "1", "material": "steel"}]
    return {"unit": "mm", "sets": sets, "targets": targets, "timing": "in_turn", **members}


def printed(client: Client, body: dict[str, Any], **query: str) -> PdfReader:
    response = client.post("/v1/cards", json=body, params=query)
    assert response.status_code == 200, response.text
    assert response.headers["content-type"] == "application/pdf"
    return PdfReader(io.BytesIO(response.content))


def text_of(reader: PdfReader) -> str:
    return " ".join(map(text_of_page, reader.pages))


def text_of_page(page: PageObject) -> str:
    # What lets long names break has no width, and is no part of them.
    return " ".join(page.extract_text().replace("\u200b", "").split())


def picture(client: Client, body: dict[str, Any], **query: str) -> Image.Image:
    png = {"Accept": "image/png"}
    response = client.post("/v1/cards", json=body, params=query, headers=png)
    assert response.status_code == 200, response.text
    return Image.open(io.BytesIO(response.content)).convert("L")
