"""A page as tagged PDF: the same HTML, laid out on paper. Nothing is fetched, and no clock is looked at."""

from __future__ import annotations

from typing import Any
from xml.etree.ElementTree import Element

from yokebook_adapters.pages.printing import INSTALL, CannotPrint

_SVG = "{http://www.w3.org/2000/svg}"

_LIBRARY = (
    "PDF needs the library Pango, which is not on this machine; on Debian and Ubuntu: apt-get install libpango-1.0-0 "
    "libpangoft2-1.0-0 fonts-liberation fonts-dejavu-core"
)


def as_pdf(html: str) -> bytes:
    """The page as PDF/UA-1: tagged, titled, the same bytes each time with the same fonts and libraries. Raises
    CannotPrint where one that it needs is missing."""
    try:
        from weasyprint import HTML
    except ImportError:
        raise CannotPrint(f"PDF needs the library WeasyPrint, which is not installed; {INSTALL}") from None
    except OSError:
        raise CannotPrint(_LIBRARY) from None
    page = HTML(string=html, url_fetcher=_fetch_nothing)
    _say_drawings(page.etree_element)
    made = page.write_pdf(pdf_variant="pdf/ua-1", finisher=_finish)
    assert isinstance(made, bytes)
    return made


def _say_drawings(page: Element) -> None:
    """On paper a drawing's title is all that is read out of it, so what is drawn is said there as well."""
    for drawing in page.iter(f"{_SVG}svg"):
        title, description = drawing.find(f"{_SVG}title"), drawing.find(f"{_SVG}desc")
        if title is not None and description is not None:
            title.text = f"{title.text}. {description.text}"


def _finish(_: object, pdf: Any) -> None:
    """Adds what the library leaves out: whether each head of a table is a column's or a row's, which its id tells by
    the row in which it stands, and the tree in which cells find heads by their ids."""
    from pydyf import Array, Dictionary

    elements = [each for each in pdf.objects if isinstance(each, Dictionary)]
    heads = {each["ID"]: each for each in elements if each.get("S") == "/TH" and "ID" in each}
    for name, head in heads.items():
        head["A"]["Scope"] = "/Column" if name.string.split("-")[1] == "0" else "/Row"
    names = sorted(heads, key=lambda name: str(name.string))
    for root in (each for each in elements if each.get("Type") == "/StructTreeRoot"):
        root["IDTree"] = Dictionary({"Names": Array(part for name in names for part in (name, heads[name].reference))})


def _fetch_nothing(url: str, *_: object, **__: object) -> dict[str, object]:
    raise ValueError(f"a page holds all that it needs, and `{url}` is not in it")
