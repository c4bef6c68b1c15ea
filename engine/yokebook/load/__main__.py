"""`python -m yokebook.load [FOLDER]`: load a rulebook, print its size or every fault of it."""

from __future__ import annotations

import sys
from pathlib import Path

from yokebook import shipped
from yokebook.load.book import load_book
from yokebook.load.faults import RulebookFaults
from yokebook.load.packed.opening import shipped_pack


def main(arguments: list[str]) -> int:
    """0 and one line when the rulebook loads; 3 and a line for each fault when it does not."""
    root = Path(arguments[0]) if arguments else None
    try:
        book = load_book(root, check_schema=True)
    except RulebookFaults as found:
        print(found)
        return 3
    tables = sum(len(edition.tables) for edition in book.editions.values())
    print(
        f"rulebook loads: {tables} tables in {len(book.editions)} editions, {len(book.facts)} facts, "
        f"{len(book.calculations)} calculations, {len(book.readings)} readings, {len(book.places)} places"
    )
    if root is None and shipped.pack_name()[1] and shipped_pack() is None:
        print("its pack is damaged or not of these files, so every load reads them, which is slow")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
