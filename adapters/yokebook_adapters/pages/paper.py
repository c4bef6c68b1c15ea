"""A page as tagged PDF: the same HTML, laid out on paper. Nothing is fetched, and no clock is looked at."""

from __future__ import annotations

from yokebook_adapters.pages.printing import INSTALL, CannotPrint

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
    made = HTML(string=html, url_fetcher=_fetch_nothing).write_pdf(pdf_variant="pdf/ua-1")
    assert isinstance(made, bytes)
    return made


def _fetch_nothing(url: str, *_: object, **__: object) -> dict[str, object]:
    raise ValueError(f"a page holds all that it needs, and `{url}` is not in it")
