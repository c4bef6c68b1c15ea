"""Reads what pages and drawings say: tables by caption, text, and what a page must keep to."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from hashlib import sha256
from itertools import pairwise
from typing import Any, cast
from xml.etree.ElementTree import Element, fromstring

import tinyhtml5
from pypdf import PdfReader
from pypdf.generic import NullObject

SVG = "{http://www.w3.org/2000/svg}"


def fingerprint(made: str | bytes) -> str:
    """What two outputs are compared by, so that a test that fails says so at once and not how long texts differ."""
    return sha256(made if isinstance(made, bytes) else made.encode()).hexdigest()


def parse(html: str) -> Element:
    """The page as elements."""
    return cast(Element, tinyhtml5.parse(html, namespace_html_elements=False))


def text_of(element: Element) -> str:
    """The words in an element, drawings left out."""
    return " ".join("".join(_texts(element)).split())


def _texts(element: Element) -> Iterator[str]:
    if element.tag in ("p", "li", "td", "th", "dt", "dd", "div", "tr", "h1", "h2", "h3"):
        yield " "
    yield element.text or ""
    for child in element:
        if child.tag not in (f"{SVG}svg", "head"):
            yield from _texts(child)
        yield child.tail or ""


def tables(root: Element) -> dict[str, list[dict[str, str]]]:
    """The rows of every table under its caption, each cell under its column's head."""
    found: dict[str, list[dict[str, str]]] = {}
    for table in root.iter("table"):
        caption, head = table.find("caption"), table.find("thead/tr")
        assert caption is not None and head is not None
        names = [text_of(cell) for cell in head]
        rows = [dict(zip(names, map(text_of, row), strict=True)) for row in table.findall("tbody/tr")]
        found.setdefault(text_of(caption), []).extend(rows)
    return found


def tagged_parts(reader: PdfReader) -> Iterator[Mapping[str, Any]]:
    """The parts of a PDF as its tags have them, in the order in which they are read out."""
    yield from _tagged(cast(Mapping[str, Any], reader.trailer["/Root"])["/StructTreeRoot"]["/K"])


def _tagged(part: Any) -> Iterator[Mapping[str, Any]]:
    part = part.get_object()
    if isinstance(part, list):
        for each in part:
            yield from _tagged(each)
    elif isinstance(part, Mapping) and "/S" in part:
        yield part
        yield from _tagged(part.get("/K", NullObject()))


def bookmarks(reader: PdfReader) -> list[str]:
    """The titles of the bookmarks of a PDF, in order, whatever their level."""

    def titles(outline: Any) -> Iterator[str]:
        for each in outline:
            if isinstance(each, list):
                yield from titles(each)
            else:
                yield str(each["/Title"])

    return list(titles(reader.outline))


def sections(root: Element) -> list[tuple[str, Element]]:
    """The sections of the page with their headings, in order."""
    return [(text_of(heading), part) for part in root.iter("section") if (heading := part.find("h2")) is not None]


def faults_of(html: str) -> list[str]:
    """What is wrong with the page as a page: things that readers of screens, printers and offline readers need."""
    root = parse(html)
    faults = []
    title = root.find("head/title")
    if root.get("lang") != "en" or title is None or not (title.text or "").strip():
        faults.append("no language or no title")
    for tag in ("header", "main", "footer"):
        if len(root.findall(f"body/{tag}")) != 1:
            faults.append(f"not one {tag}")
    if {child.tag for child in root.findall("body/*")} - {"header", "main", "footer"}:
        faults.append("something outside the landmarks")
    faults += _of_headings(root)
    faults += _of_tables(root)
    faults += _of_drawings(root)
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    faults += [f"two things with the id {each}" for each in {i for i in ids if ids.count(i) > 1}]
    for element in root.iter():
        if element.tag in ("script", "iframe", "object", "link", "base", "form"):
            faults.append(f"an element {element.tag}")
        for name, value in element.attrib.items():
            if name.startswith("on") or (name in ("href", "src") and not value.startswith("#")):
                faults.append(f"{element.tag} has {name}={value}")
            if name == "href" and value[1:] not in ids:
                faults.append(f"a link to {value}, which is nowhere")
    if "http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'" not in html:
        faults.append("no policy that keeps scripts and the network out")
    if re.search(r"url\(|@import", html):
        faults.append("a style sheet that fetches something")
    return faults


def _of_headings(root: Element) -> Iterator[str]:
    levels = [int(element.tag[1]) for element in root.iter() if re.fullmatch("h[1-6]", str(element.tag))]
    if levels.count(1) != 1 or levels[0] != 1:
        yield "not one heading of the first level, first"
    yield from (f"h{before} is followed by h{after}"
                for before, after in pairwise(levels) if after > before + 1)  # fmt: skip


def _of_tables(root: Element) -> Iterator[str]:
    for table in root.iter("table"):
        caption = table.find("caption")
        if caption is None or not text_of(caption):
            yield "a table without a caption"
        for cell in table.iter("th"):
            if cell.get("scope") not in ("col", "row") or not text_of(cell):
                yield f"a head without scope or words: {text_of(cell)}"
        if table.get("class") == "stack":  # laid out as blocks on a phone, so what it is must be said
            parts = (part for part in table.iter() if part.tag in ("tr", "td", "th", "thead", "tbody"))
            yield from (f"a {part.tag} without a role" for part in parts if not part.get("role"))


def _of_drawings(root: Element) -> Iterator[str]:
    for drawing in root.iter(f"{SVG}svg"):
        yield from faults_of_drawing(drawing)


def faults_of_drawing(drawing: Element) -> list[str]:
    """What a drawing lacks for those who cannot see it."""
    faults = []
    parts = {tag: drawing.find(f"{SVG}{tag}") for tag in ("title", "desc")}
    for tag, part in parts.items():
        if part is None or not (part.text or "").strip():
            faults.append(f"a drawing without {tag}")
    named = [part.get("id") for part in parts.values() if part is not None]
    if drawing.get("role") != "img" or (drawing.get("aria-labelledby") or "").split() != named:
        faults.append("a drawing that does not say what it is")
    return faults


def drawing_of(text: str) -> Element:
    """A drawing as elements; raises ParseError where it is not well-formed."""
    return fromstring(text)


def drawn_texts(drawing: Element) -> list[str]:
    """The text in a drawing, in the order in which it is drawn."""
    return [element.text or "" for element in drawing.iter(f"{SVG}text")]


def boxes_of_text(drawing: Element) -> list[tuple[str, float, float, float, float]]:
    """Each text with the left, top, right and bottom that it takes up at most."""
    from yokebook_adapters.drawings.measure import text_width

    found = []
    for element in drawing.iter(f"{SVG}text"):
        size, text = float(element.get("font-size", "0")), element.text or ""
        wide = text_width(text, size, bold=element.get("font-weight") == "bold")
        left = float(element.get("x", "0")) - {"middle": wide / 2, "end": wide}.get(element.get("text-anchor", ""), 0.0)
        base = float(element.get("y", "0"))
        found.append((text, left, base - size * 0.75, left + wide, base + size * 0.2))
    return found


def overlaps(drawing: Element) -> list[tuple[str, str]]:
    """Texts that are drawn over each other, and texts that leave the drawing."""
    boxes = boxes_of_text(drawing)
    found = [
        (a[0], b[0])
        for n, a in enumerate(boxes)
        for b in boxes[n + 1 :]
        if min(a[3], b[3]) - max(a[1], b[1]) > 0.5 and min(a[4], b[4]) - max(a[2], b[2]) > 0.5
    ]
    wide, high = (float(drawing.get(side, "0")) for side in ("width", "height"))
    return found + [(text, "the edge") for text, left, top, right, bottom in boxes
                    if left < -0.5 or top < -0.5 or right > wide + 0.5 or bottom > high + 0.5]  # fmt: skip


def covered(drawing: Element) -> list[str]:
    """Texts that a circle is drawn over, or that are drawn over a circle."""
    discs = [tuple(float(each.get(part, "0")) for part in ("cx", "cy", "r")) for each in drawing.iter(f"{SVG}circle")]
    return [
        text
        for text, left, top, right, bottom in boxes_of_text(drawing)
        for x, y, r in discs
        if min(right, x + r) - max(left, x - r) > 0.5 and min(bottom, y + r) - max(top, y - r) > 0.5
    ]
