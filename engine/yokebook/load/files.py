"""The bytes of a YAML or JSON file as nodes: size, encoding and characters first, then what is written there."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from yokebook.load.faults import Fault
from yokebook.load.nodes import Node
from yokebook.model import At

if TYPE_CHECKING:
    from pathlib import Path

SIZE_LIMIT = 2_000_000
_NOT_TEXT = re.compile("[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def decode(data: bytes, file: str, faults: list[Fault], size_limit: int = SIZE_LIMIT) -> str | None:
    """The text of a file's bytes, without a byte-order mark; None, with a fault added, if it is too large, not UTF-8,
    holds control characters, or is empty."""
    start = At(file, 1, 1)
    if len(data) > size_limit:
        faults.append(Fault(start, f"the file has {len(data):,} bytes; allowed: at most {size_limit:,}"))
        return None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        column = error.start - data.rfind(b"\n", 0, error.start)
        faults.append(Fault(At(file, line, column), f"byte 0x{data[error.start]:02x} is not UTF-8; save it as UTF-8"))
        return None
    odd = _NOT_TEXT.search(text)
    if odd:
        line = text.count("\n", 0, odd.start()) + 1
        column = odd.start() - text.rfind("\n", 0, odd.start())
        faults.append(Fault(At(file, line, column), f"control character U+{ord(odd[0]):04X} is not allowed in text"))
        return None
    if not text.strip():
        faults.append(Fault(start, "the file is empty"))
        return None
    return text


def read_file(path: Path, file: str, faults: list[Fault], size_limit: int = SIZE_LIMIT) -> Node | None:
    """The nodes of a YAML file, or of a JSON file if its name ends in .json; `file` is how faults name it. None, with
    faults added, if it cannot be read."""
    try:
        data = path.read_bytes()
    except OSError as error:
        faults.append(Fault(At(file, 1, 1), f"cannot be read: {error.strerror or error}"))
        return None
    return read_bytes(data, file, faults, size_limit)


def read_bytes(data: bytes, file: str, faults: list[Fault], size_limit: int = SIZE_LIMIT) -> Node | None:
    """The nodes of a file's bytes: JSON if `file` ends in .json, else YAML. None, with faults added, if it cannot be
    read."""
    text = decode(data, file, faults, size_limit)
    if text is None:
        return None
    if file.endswith(".json"):
        from yokebook.load.json_nodes import read_json

        return read_json(text, file, faults)
    from yokebook.load.yaml_nodes import read_yaml  # only here: PyYAML is slow to import

    return read_yaml(text, file, faults)
