"""Pieces that several kinds of file share: cites, check marks, ids."""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import cast

from yokebook.load.faults import listed, suggest
from yokebook.load.fields import Fields
from yokebook.load.nodes import Scalar
from yokebook.load.scalars import text_of
from yokebook.model import CHECK_ORDER, At, Checked, CheckMark, Cite

_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.-]*")

UNCHECKED = Checked("assumed", "")
NO_CITE = Cite("", "")


def check_id(text: str, what: str, at: At, fields: Fields) -> None:
    """Notes a fault where an id has anything but letters, digits, `_`, `.` and `-`."""
    if not _ID.fullmatch(text):
        fields.fault(at, f"`{text}` is no id of {what}; allowed: letters, digits, `_`, `.` and `-`")


def checked_of(fields: Fields, default: Checked | None = None) -> Checked:
    """The mark under `checked`, `{seen: source}`; required without a default."""
    if default is not None and not fields.has("checked"):
        return default
    inner = fields.fields("checked", f"`checked` of {fields.what}")
    if inner is None:
        return default or UNCHECKED
    mark = inner.one_key_of(tuple(reversed(CHECK_ORDER)), "mark")
    if mark is None:
        return default or UNCHECKED
    source = inner.text(mark)
    inner.finish()
    return Checked(cast(CheckMark, mark), source)


def cite_of(fields: Fields, documents: Collection[str], default: Cite | None = None) -> Cite:
    """What stands under `cite`, `{document: …, section: …}`; required without a default. A document is an id of
    documents/, or a title (more than one word) of something else."""
    if default is not None and not fields.has("cite"):
        return default
    inner = fields.fields("cite", f"`cite` of {fields.what}")
    if inner is None:
        return default or NO_CITE
    document, section = inner.text("document"), inner.text("section")
    inner.finish()
    if document and " " not in document.strip() and document not in documents:
        fields.fault(
            inner.value_at("document"),
            f"`{document}` is no document{suggest(document, documents)}; allowed: a title of several words, or "
            f"{listed(documents)}",
        )
    return Cite(document, section)


def optional_cite(fields: Fields, documents: Collection[str]) -> Cite | None:
    """What stands under `cite`, None if the key is absent."""
    return cite_of(fields, documents) if fields.has("cite") else None


def words_of(fields: Fields, key: str, what: str, *, required: bool = True) -> dict[str, str]:
    """Words and what they mean, under `key`, in file order."""
    words: dict[str, str] = {}
    for entry in fields.entries(key, what, required=required):
        if entry.key.is_number:
            fields.fault(entry.key.at, f"`{entry.key.text}` reads as a number where a word is due; put it in quotes")
        node = entry.value
        try:
            words[entry.key.text] = text_of(node)
        except ValueError as error:
            if not (isinstance(node, Scalar) and node.is_null and any(f.at == entry.key.at for f in fields.faults)):
                fields.fault(node.at, f"`{entry.key.text}` of {fields.what}: {error}")
            words[entry.key.text] = ""
    if not words and required and fields.node.get(key) is not None:
        fields.fault(fields.key_at(key), f"`{key}` of {fields.what} is empty; allowed: at least one")
    return words
