"""The fenced code blocks of a Markdown document."""

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
_FENCE = re.compile(r"^```(?P<language>[a-z]*)\n(?P<text>.*?)^```$", re.MULTILINE | re.DOTALL)


def read(document: str) -> str:
    """The document's text."""
    return (ROOT / document).read_text(encoding="utf-8")


def code_blocks(document: str, language: str) -> list[str]:
    """The blocks of one language, in order."""
    found = _FENCE.finditer(read(document))
    return [block["text"] for block in found if block["language"] == language]
