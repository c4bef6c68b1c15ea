"""FILE.pins.json beside a place's file: what each pin was made over, so that a stale pin can show the old text next to
the new and say whether any outcome changes."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from yokebook.canonical_rules import Canonical
from yokebook.load.faults import Fault, RulebookFaults
from yokebook.model import At, Book, Place
from yokebook.pins import Pinned, RecordedPart, RecordedPin, digest

#: Which op of a file: layer, amendment, op and target.
Key = tuple[str, str, str, str]


def record_path(path: Path) -> Path:
    """Where the record of a file's pins stands."""
    return path.with_name(f"{path.name}.pins.json")


def place_path(book: Book, place: Place) -> Path:
    """The file that a place was read from: in the rulebook's own folder, or where a draft stands."""
    root = Path(book.root)
    own = root / "places" / f"{place.id}.yaml"
    names = {f"{book.root.rstrip('/')}/places/{place.id}.yaml", f"{root.name}/places/{place.id}.yaml"}
    return own if place.at.file in names and own.exists() else Path(place.at.file)


def record_text(path: Path, pins: Iterable[tuple[Key, str, Pinned, Mapping[str, str]]]) -> str:
    """The record of a file's pins: of each its op, the base in words, what it was made over, and the base's wording."""
    kept: list[Canonical] = []

    def number(canonical: Canonical) -> int:
        kept.append(canonical)
        return len(kept) - 1

    data = [
        {
            "layer": layer,
            "amendment": amendment,
            "op": op,
            "target": target,
            "base": base,
            "pin": due.pin,
            "parts": {
                name: {"digest": due.digests[name], "words": words, "is": number(due.canonical[name])}
                for name, words in due.parts.items()
            },
            "numbers": dict(due.numbers),
            "editorial": dict(editorial),
        }
        for (layer, amendment, op, target), base, due, editorial in pins
    ]
    about = f"What each pin in {path.name} was made over. `yokebook pin` writes this file."
    text = json.dumps({"about": about, "pins": data}, indent=2, ensure_ascii=False) + "\n"
    # what is kept for machines stands on one line each, so that people can read past it
    return re.sub(r'(?m)^( +"is": )([0-9]+)$', lambda found: found[1] + _on_one_line(kept[int(found[2])]), text)


def _on_one_line(canonical: Canonical) -> str:
    return json.dumps(canonical, ensure_ascii=False, sort_keys=True)


def read_record(path: Path) -> dict[Key, RecordedPin]:
    """The record in a file, by op; empty where there is no such file. Records from before old texts were kept whole are
    read too.

    Raises RulebookFaults for a file that is no record of pins.
    """
    if not path.exists():
        return {}
    try:
        data: Any = json.loads(path.read_text(encoding="utf-8"))
        return {
            (each["layer"], each["amendment"], each["op"], each["target"]): _pin(each) for each in data["pins"]
        }
    except (ValueError, KeyError, TypeError, AttributeError):
        found = (
            "not a record of pins as `yokebook pin` writes it; delete it, and the next `yokebook pin` writes it anew"
        )
        raise RulebookFaults([Fault(At(str(path), 1, 1), found)]) from None


def _pin(data: Any) -> RecordedPin:
    parts = {
        name: RecordedPart(str(part["digest"]), str(part["words"]), part.get("is"))
        for name, part in data["parts"].items()
    }
    whole = "editorial" in data
    if whole and any(digest(part.canonical) != part.digest for part in parts.values()):
        raise ValueError("a part is not what its digest says")
    numbers = {name: str(number) for name, number in data.get("numbers", {}).items()}
    editorial = {name: str(text) for name, text in data.get("editorial", {}).items()}
    return RecordedPin(str(data["pin"]), parts, whole, numbers, editorial)
