"""Which rows each text brought: those that its files write, each once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from shipped_book import rulebook
from yokebook.model import Book, Op
from yokebook.proof.introduced import Introduced, introduced

BOOK: Book = rulebook().book
FOUND: list[Introduced] = list(introduced(BOOK))


def ops_of(ops: tuple[Op, ...]) -> Iterator[str]:
    """The rows that some changes write or touch; what is deleted is no row any more."""
    for op in ops:
        if op.op in ("add", "replace", "narrow", "prevails_over") and "#" in op.target:
            yield op.target


def rows(each: Introduced) -> Iterator[tuple[str, str]]:
    """The rows of one table with the name of the law."""
    yield from ((each.name, rule) for rule in each.rules if not rule.endswith("#none_fires"))
    if each.none_fires:
        yield each.name, f"{each.question}#none_fires"


def test_an_edition_brings_the_tables_it_writes_and_the_rules_it_changes() -> None:
    expected = Counter[tuple[str, str]]()
    for (document, edition), each in BOOK.editions.items():
        name = f"{document} {edition}"
        for table in each.tables:
            expected.update((name, rule.id) for rule in table.rules)
            expected[name, f"{table.question}#none_fires"] += 1
        expected.update((name, row) for row in ops_of(each.changes))
    found = Counter(row for each in FOUND if each.place is None for row in rows(each))
    assert found == expected


def test_a_layer_brings_the_rules_that_its_amendments_write() -> None:
    expected = Counter[str]()
    for place in BOOK.places.values():
        for layer in place.layers.values():
            for amendment in layer.amendments:
                expected.update(ops_of(amendment.ops))
    assert Counter(row for each in FOUND if each.place is not None for _, row in rows(each)) == expected


def test_a_places_law_is_named_with_the_dates_from_which_it_governs() -> None:
    city = "demo/tamarisk/brindle-falls"
    found = {(each.name, *each.dates.items()) for each in FOUND if each.place == city}
    assert (f"{city} BF-EC23", ("permit application", "2024-07-01")) in found


def test_a_carried_rule_is_nobodys() -> None:
    """2026 changes nothing of the rule that asks for the mark: it is not tried again there."""
    assert not [each for each in FOUND if each.name == "nfpa-70 2026" and each.question == "marking.required"]
    assert "marking.required" in BOOK.questions
