"""Small tables as a code in force, for columns: one contact with a choice, yes and no and numbers."""

from __future__ import annotations

from collections.abc import Iterable

from ruling import places, small
from yokebook.code import Code
from yokebook.model import Table

#: What the columns of a small table hold, as a database says it.
TYPES = {
    "contact.x": "VARCHAR", "contact.y": "VARCHAR", "contact.p": "BOOLEAN", "contact.q": "BOOLEAN",
    "contact.n": "DOUBLE", "contact.m": "INTEGER",
}  # fmt: skip


def code_of(tables: Iterable[Table]) -> Code:
    """The code in which just these tables are in force."""
    book = small.book()
    return Code(book, places.stands(places.law(book, tables)), None, {}, None, {})
