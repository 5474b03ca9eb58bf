"""What all pages for people have in common: templates, their languages, and their policy."""

import re
from functools import cache
from typing import Final

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from wrung.rounding import at_most
from wrung_service.api.bodies import HttpRequest
from wrung_service.api.german import wants_german
from wrung_service.api.page_words import Language

POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; img-src 'self'; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
"""No script or style in the page itself, and nothing from elsewhere."""

LANGUAGE_COOKIE: Final = "lang"

_BEHIND_A_SIGN: Final = re.compile(r"(?<=[_/.:#+])(?=\w)")
"""Behind a hyphen browsers break by themselves."""


def theme_of(request: HttpRequest) -> str:
    """Light or dark, where somebody wants another look than that of the system."""
    wanted = request.query_params.get("theme") or request.cookies.get("theme", "")
    return wanted if wanted in {"light", "dark"} else ""


def language_of(request: HttpRequest) -> Language:
    """As chosen on a page, else as usual."""
    chosen = request.query_params.get("lang")
    return _language(chosen) or usual_language(request)


def usual_language(request: HttpRequest) -> Language:
    """What was chosen before, else what the browser prefers."""
    german = wants_german(request.headers.get("accept-language", ""))
    return _language(request.cookies.get(LANGUAGE_COOKIE)) or ("de" if german else "en")


def _language(name: str | None) -> Language | None:
    return "de" if name == "de" else "en" if name == "en" else None


@cache
def templates(folder: str) -> Environment:
    """The templates in a folder of ``pages``."""
    found = Environment(
        loader=PackageLoader("wrung_service", f"pages/{folder}"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
    )
    found.filters["at_most"] = at_most
    found.filters["breakable"] = _breakable
    return found


def _breakable(name: str) -> Markup:
    """A name that may go on in the next line behind its signs, rather than within a word."""
    return Markup("<wbr>").join(_BEHIND_A_SIGN.split(name))
