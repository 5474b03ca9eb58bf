"""Pages as HTML."""

import json
from collections.abc import Iterator
from functools import cache
from html import escape
from typing import Final

from markdown_it import MarkdownIt

from wrung_service.api.guide.contents import GROUPS, example_of, summary_of, text_of, title_of
from wrung_service.api.guide.wringing import stacks_table

STYLE: Final = "style.css"
_HOME: Final = '<nav><a href="./">Contents of the guide</a></nav>'
_SUMMARIES: Final = {"request": "The request, as JSON"}


def start_page() -> str:
    """The introduction, and every page with its first sentence."""
    return _page("Guide", _markdown(text_of("start")) + "".join(_contents()))


def page(name: str) -> str:
    """A page of the guide, with a way back above and below it."""
    return _page(title_of(name), f"{_HOME}{_rendered(name)}{_HOME}")


def missing(said: str) -> str:
    """In place of a page that there is not."""
    return _page("Guide", f"<h1>Not found</h1><p>{escape(said)}</p>{_HOME}")


def _contents() -> Iterator[str]:
    for heading, pages in GROUPS.items():
        items = "".join(
            f'<li><a href="{name}">{escape(title_of(name))}</a><br>{_inline(summary_of(name))}</li>'
            for name in pages
        )
        yield f'<h2>{escape(heading)}</h2><ul class="contents">{items}</ul>'


@cache
def _rendered(name: str) -> str:
    """The page's text, with what stands in braces put in from its example."""
    html, found = _markdown(text_of(name)), example_of(name)
    if found is None:
        return html
    request, answer = found
    html = html.replace("<p>{{wring}}</p>", stacks_table(answer) if "stacks" in answer else "")
    for member, value in {"request": request, **answer}.items():
        html = html.replace(f"<p>{{{{{member}}}}}</p>", _folded(member, value))
    return html


def _folded(member: str, value: object) -> str:
    """JSON that opens at a click; it is not printed while it is closed."""
    summary = _SUMMARIES.get(member, f"<code>{escape(member)}</code> of the answer, as JSON")
    text = escape(json.dumps(value, indent=2, ensure_ascii=False))
    return f"<details><summary>{summary}</summary><pre><code>{text}</code></pre></details>"


def _markdown(text: str) -> str:
    rendered: str = MarkdownIt("commonmark", {"html": False}).enable("table").render(text)
    return rendered.replace("<table>", '<div class="wide"><table>').replace(
        "</table>", "</table></div>"
    )


def _inline(text: str) -> str:
    rendered: str = MarkdownIt("commonmark", {"html": False}).renderInline(text)
    return rendered


def _page(title: str, body: str) -> str:
    return (
        '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta name="color-scheme" content="light dark">'
        f"<title>wrung: {escape(title)}</title>"
        f'<link rel="stylesheet" href="{STYLE}"></head><body><main>{body}</main></body></html>'
    )
