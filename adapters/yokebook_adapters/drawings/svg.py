"""One drawing in the making: shapes and text as SVG elements, escaped by the library that writes them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Literal
from xml.etree import ElementTree

from yokebook_adapters.drawings.measure import text_width

FONT = "Liberation Sans, Arial, Helvetica, sans-serif"
INK, GREY = "#111111", "#555555"

Anchor = Literal["start", "middle", "end"]
Point = tuple[float, float]

#: What XML cannot hold, and signs that would turn the text around them.
_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]|[\u202a-\u202e\u2066-\u2069]")
_TO_THE_LEFT = re.compile("[\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufeff\U00010800-\U00010fff\U0001e800-\U0001efff]")


def clean(text: object) -> str:
    """The text with what no page or drawing can hold replaced.

    >>> clean("R1\\x00")
    'R1\ufffd'
    """
    return _NOT_XML.sub("\ufffd", str(text))


def number(value: float) -> str:
    """A number as drawings write it: at most two decimals, the same on every machine."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


class Picture:
    """A drawing; `name` is what its ids begin with, so that several can stand on one page."""

    def __init__(self, name: str, title: str, description: str, width: float) -> None:
        self.name = re.sub(r"[^A-Za-z0-9]+", "-", name).strip("-").lower() or "drawing"
        self.title, self.description = clean(title), clean(description)
        self.width, self.height = width, 0.0
        self._root = ElementTree.Element("svg", {"xmlns": "http://www.w3.org/2000/svg"})
        for tag, text in (("title", self.title), ("desc", self.description)):
            ElementTree.SubElement(self._root, tag, {"id": f"{self.name}-{tag}"}).text = text

    # ---- shapes ----

    def _add(self, tag: str, **attributes: float | str) -> ElementTree.Element:
        named = {key.replace("_", "-"): value if isinstance(value, str) else number(value)
                 for key, value in attributes.items()}  # fmt: skip
        return ElementTree.SubElement(self._root, tag, named)

    def box(
        self,
        x: float,
        y: float,
        width: float,
        height: float,
        *,
        fill: str = "none",
        line: float = 1,
        dashes: str = "",
        round_by: float = 0,
    ) -> None:
        """A rectangle; `line` is how thick its outline is, 0 for none."""
        more = {"stroke": INK, "stroke_width": number(line)} if line else {}
        more |= {"stroke_dasharray": dashes} if dashes else {}
        more |= {"rx": number(round_by)} if round_by else {}
        self._add("rect", x=x, y=y, width=width, height=height, fill=fill, **more)

    def line(self, start: Point, end: Point, *, thick: float = 1, dashes: str = "", ink: str = INK) -> None:
        """A straight line."""
        more = {"stroke_dasharray": dashes} if dashes else {}
        self._add("line", x1=start[0], y1=start[1], x2=end[0], y2=end[1], stroke=ink, stroke_width=thick, **more)

    def disc(self, centre: Point, radius: float, *, fill: str = "#ffffff", line: float = 1.2) -> None:
        """A circle."""
        self._add("circle", cx=centre[0], cy=centre[1], r=radius, fill=fill, stroke=INK, stroke_width=line)

    def outline(self, points: Sequence[Point], *, fill: str = "none", line: float = 1.2, dashes: str = "") -> None:
        """A closed shape."""
        path = " ".join(f"{number(x)},{number(y)}" for x, y in points)
        more = {"stroke_dasharray": dashes} if dashes else {}
        self._add("polygon", points=path, fill=fill, stroke=INK, stroke_width=line, stroke_linejoin="round", **more)

    def hatch(self, x: float, y: float, width: float, height: float, *, step: float = 6, thick: float = 0.8) -> None:
        """Slanting lines that fill a rectangle, each cut at its edges."""
        parts = []
        along = step
        while along < width + height:
            x1, y1 = (along, 0.0) if along <= width else (width, along - width)
            x2, y2 = (0.0, along) if along <= height else (along - height, height)
            parts.append(f"M{number(x + x1)} {number(y + y1)}L{number(x + x2)} {number(y + y2)}")
            along += step
        if parts:
            self._add("path", d="".join(parts), stroke=GREY, stroke_width=thick, fill="none")

    def dots(self, x: float, y: float, width: float, height: float, *, step: float = 7) -> None:
        """Dots that fill a rectangle."""
        rows, columns = int((height - 2) // step), int((width - 2) // step)
        parts = [
            f"M{number(x + step * (column + 0.75))} {number(y + step * (row + 0.75))}h0.01"
            for row in range(rows)
            for column in range(columns)
        ]
        if parts:
            self._add("path", d="".join(parts), stroke=GREY, stroke_width=1.8, stroke_linecap="round", fill="none")

    # ---- text ----

    def text(
        self,
        x: float,
        y: float,
        text: str,
        *,
        size: float = 11,
        bold: bool = False,
        anchor: Anchor = "start",
        ink: str = INK,
        behind: bool = False,
    ) -> None:
        """One line of text, `y` its base line; `behind` puts paper behind it, where lines run."""
        shown = clean(text)
        if behind:
            wide = text_width(shown, size, bold=bold)
            left = x - {"start": 0.0, "middle": wide / 2, "end": wide}[anchor]
            self.box(left - 2, y - size, wide + 4, size * 1.3, fill="#ffffff", line=0)
        if _TO_THE_LEFT.search(shown):
            shown = f"\u2068{shown}\u2069"
        more = {"font_weight": "bold"} if bold else {}
        more |= {"text_anchor": anchor} if anchor != "start" else {}
        self._add("text", x=x, y=y, font_family=FONT, font_size=size, fill=ink, **more).text = shown

    def lines(
        self, x: float, y: float, lines: Sequence[str], *, size: float = 11, bold: bool = False, ink: str = INK
    ) -> float:
        """Lines of text under each other from the base line `y` on; returns the base line after the last."""
        for line in lines:
            self.text(x, y, line, size=size, bold=bold, ink=ink)
            y += leading(size)
        return y

    # ---- written out ----

    def _finished(self, standing_alone: bool) -> ElementTree.Element:
        self._root.attrib |= {
            "viewBox": f"0 0 {number(self.width)} {number(self.height)}",
            "width": number(self.width),
            "height": number(self.height),
            "role": "img",
            "aria-labelledby": f"{self.name}-title {self.name}-desc",
        }
        if standing_alone:
            self._root.attrib["xml:lang"] = "en"
        return self._root

    def inline(self, css_class: str = "") -> str:
        """The drawing as an element of an HTML page."""
        root = self._finished(False)
        if css_class:
            root.attrib["class"] = css_class
        return ElementTree.tostring(root, encoding="unicode")

    def document(self) -> str:
        """The drawing as a file of its own, on white paper."""
        root = self._finished(True)
        paper = ElementTree.Element("rect", {"width": "100%", "height": "100%", "fill": "#ffffff"})
        root.insert(2, paper)
        ElementTree.indent(root)
        text = ElementTree.tostring(root, encoding="unicode")
        root.remove(paper)
        return f'<?xml version="1.0" encoding="UTF-8"?>\n{text}\n'


def leading(size: float) -> float:
    """From one base line to the next."""
    return size * 1.3
