"""How wide text is in a drawing, and how it breaks into lines: near enough for any plain sans-serif typeface."""

from __future__ import annotations

import unicodedata

#: Widths in thousandths of the size, of the usual metrics of a plain sans-serif; what is not listed is `_OTHER`.
_WIDTHS = {
    222: "ijl'|", 278: " !,./:;I[]\\tf", 333: "()-`r\"", 389: "*", 500: "cksvxyzJ", 556: "abdeghnopqu0123456789?#$_L",
    584: "+<=>~^", 611: "FTZ", 667: "ABEKPSVXY&", 722: "CDHNRUw", 778: "GOQ", 833: "mM", 889: "%", 944: "W", 1015: "@",
}  # fmt: skip
_OF = {sign: width for width, signs in _WIDTHS.items() for sign in signs}
_OTHER, _WIDE = 620, 1200
_BOLD = 1.08


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """The width of the text in the drawing's units, a little more than it mostly takes.

    >>> text_width("mm", 10) > text_width("ii", 10)
    True
    """
    return sum(_sign_width(sign) for sign in text) * size / 1000 * (_BOLD if bold else 1)


def _sign_width(sign: str) -> int:
    if sign in _OF:
        return _OF[sign]
    if unicodedata.combining(sign) or unicodedata.category(sign) in ("Cf", "Mn"):
        return 0
    return _WIDE if unicodedata.east_asian_width(sign) in ("W", "F") or ord(sign) > 0xFFFF else _OTHER


def fit(text: str, width: float, size: float, *, bold: bool = False) -> list[str]:
    """The text as lines no wider than `width`; a word that is wider by itself is broken.

    >>> fit("a word here", 40, 10)
    ['a word', 'here']
    """
    lines: list[str] = []
    line = ""
    for word in text.split():
        joined = f"{line} {word}" if line else word
        if text_width(joined, size, bold=bold) <= width:
            line = joined
            continue
        lines += [line] if line else []
        *whole, line = _broken(word, width, size, bold)
        lines += whole
    return [*lines, line] if line else lines


def _broken(word: str, width: float, size: float, bold: bool) -> list[str]:
    """A word in pieces that fit."""
    pieces = [""]
    for sign in word:
        if pieces[-1] and text_width(pieces[-1] + sign, size, bold=bold) > width:
            pieces.append("")
        pieces[-1] += sign
    return pieces
