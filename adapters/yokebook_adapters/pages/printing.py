"""Templates filled with data: everything escaped, the same bytes for the same data."""

from __future__ import annotations

import re
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any

from yokebook_adapters.drawings.svg import clean
from yokebook_adapters.lines import capital, in_words, many, sentence

if TYPE_CHECKING:
    from jinja2 import Environment
    from markupsafe import Markup

#: How to get what pages and PDF need.
INSTALL = "install yokebook with its extra `reports`: pip install 'yokebook[reports]'"

#: As much of a name as the margin of a page holds.
_MARGIN_SIGNS = 70


class CannotPrint(Exception):
    """A library that the page needs is not there; the message says which and how to get it."""


def page(template: str, **data: Any) -> str:
    """The page that a template makes of the data. Raises CannotPrint where the library for templates is missing."""
    return _templates().get_template(template).render(data) + "\n"


@cache
def _templates() -> Environment:
    try:
        from jinja2 import Environment, PackageLoader, StrictUndefined
    except ImportError:
        raise CannotPrint(f"HTML and PDF need the library Jinja2, which is not installed; {INSTALL}") from None
    made = Environment(
        loader=PackageLoader("yokebook_adapters.pages", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=False,
        finalize=_fit_for_a_page,
    )
    made.filters |= {
        "capital": lambda text: capital(text) if text else "",
        "in_words": in_words,
        "many": many,
        "sentence": sentence,
        "named": named,
        "css": css_text,
        "short": lambda digest: str(digest)[:12],
    }
    made.globals |= {"style": _style()}
    return made


def _style() -> Markup:
    from markupsafe import Markup

    return Markup(resources.files("yokebook_adapters.pages").joinpath("templates/paper.css").read_text("utf-8"))


def _fit_for_a_page(value: object) -> object:
    """Text without the signs that no page can hold."""
    from markupsafe import Markup

    return clean(value) if isinstance(value, str) and not isinstance(value, Markup) else value


def named(text: str) -> Markup:
    """The text escaped, what stands between backticks set apart as a name."""
    from markupsafe import Markup, escape

    parts = clean(text).split("`")
    if len(parts) % 2 == 0:
        return escape(clean(text))
    set_apart = (Markup('<span class="name">{}</span>').format(part) if n % 2 else escape(part)
                 for n, part in enumerate(parts))  # fmt: skip
    return Markup("").join(set_apart)


def css_text(text: str) -> Markup:
    """The text as a string in a style sheet; nothing in it can end the string or the sheet.

    >>> str(css_text('a"</style>'))
    '"a\\\\22 \\\\3c \\\\2f style\\\\3e "'
    """
    from markupsafe import Markup

    shown = clean(text).strip()
    shown = shown if len(shown) <= _MARGIN_SIGNS else shown[: _MARGIN_SIGNS - 1].rstrip() + "\N{HORIZONTAL ELLIPSIS}"
    return Markup('"' + re.sub(r"[^A-Za-z0-9 ,.()-]", lambda sign: f"\\{ord(sign[0]):x} ", shown) + '"')


