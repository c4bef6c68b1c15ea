"""What a search for a record tries: values of facts, and the readings under which it looks."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import islice, product

from yokebook.law import Law
from yokebook.model import Book, Calculation, Fact, Value
from yokebook.proof.cells import cells_on, ends_of
from yokebook.reach import names_in_rule, names_reached
from yokebook.session import published
from yokebook.values import Range, Some, Span, in_order, within

#: Numbers tried of a fact that no cell cuts.
_USUAL = (Fraction(1), Fraction(0), Fraction(2), Fraction(10), Fraction(100), Fraction(1000), Fraction(-1))

#: How many combinations of the alternatives of readings are tried for one region.
_MOST_READINGS = 6


class Points:
    """Values of facts to try under one law: every word, or a number in every stretch that some cell tells apart."""

    def __init__(self, book: Book, law: Law) -> None:
        self.book = book
        self.law = law
        self._made: dict[str, tuple[Value, ...]] = {}

    def of(self, name: str) -> tuple[Value, ...]:
        """The values of a fact, or of a figure that people read off a nameplate."""
        if name not in self._made:
            self._made[name] = tuple(self._make(name))
        return self._made[name]

    def is_number(self, name: str) -> bool:
        """Whether a fact or figure is a number."""
        return self._its(name).type == "number"

    def allowed(self, name: str, number: Fraction) -> bool:
        """Whether a fact may have this number; a figure read off a nameplate is never below zero."""
        fact = self.book.facts.get(name)
        if fact is None:
            return number >= 0
        return within(number, Range(fact.low, fact.low_open, fact.high, fact.high_open, fact.whole))

    def _its(self, name: str) -> Fact | Calculation:
        return self.book.facts[name] if name in self.book.facts else self.book.calculations[name]

    def _make(self, name: str) -> Iterator[Value]:
        its = self._its(name)
        if its.type == "yes_no":
            yield from (True, False)
        elif its.type == "choice":
            yield from its.values
        else:
            numbers = dict.fromkeys((*self._near(name, its.unit), *_USUAL))
            yield from (number for number in numbers if self.allowed(name, number))

    def _near(self, name: str, unit: str | None) -> Iterator[Fraction]:
        """Numbers that the law's cells on a fact, and its named numbers in the same unit, have for an end; then one
        below and one above each, so that both sides of it are tried."""
        ends = {n for cell in cells_on(name, self.law, self.book) for n in ends_of(cell)}
        if unit is not None:
            ends |= {value.value for value in self.law.resolved.values.values() if value.unit == unit}
        yield from sorted(ends)
        for end in sorted(ends):
            yield from (end + 1, end - 1, end * 2)


def ends_of_spans(spans: Sequence[Span]) -> list[Fraction]:
    """The numbers at which some spans end, or which they hold one by one."""
    found: list[Fraction] = []
    for span in spans:
        members = (span.low, span.high) if isinstance(span, Range) else span.values if isinstance(span, Some) else ()
        found += [n for n in members if isinstance(n, Fraction)]
    return found


def through(points: Sequence[tuple[Value, Fraction]], wanted: Sequence[Fraction]) -> Iterator[Fraction]:
    """Where a figure known at two numbers comes to what is wanted: if it is `a + b x`, then if it is `a + b / x`."""
    (x1, y1), (x2, y2) = points
    assert isinstance(x1, Fraction) and isinstance(x2, Fraction)
    if y1 == y2:
        return
    for want in wanted:
        part = (want - y1) / (y2 - y1)
        yield x1 + part * (x2 - x1)
        if x1 and x2 and (over := 1 / x1 + part * (1 / x2 - 1 / x1)):
            yield 1 / over


# ---- readings --------------------------------------------------------------------------------------------------------


def ways_to_read(
    book: Book, law: Law, wanted: Mapping[str, Sequence[Span]], behind: frozenset[str]
) -> Iterator[dict[str, str]]:
    """The readings to hold fixed for one look: one alternative of each that is wanted, every combination up to a few,
    published ones first; then each argued alternative of a reading that is not, for only published ones are tried by
    themselves. `behind` holds the names that those wanted reach."""
    options = {
        name.removeprefix("reading."): _published_first(book, name.removeprefix("reading."), spans)
        for name, spans in wanted.items()
        if name.startswith("reading.")
    }
    for picked in islice(product(*options.values()), _MOST_READINGS):
        yield dict(zip(options, picked, strict=True))
    firsts = {name: alternatives[0] for name, alternatives in options.items()}
    for reading in sorted(name.removeprefix("reading.") for name in behind if name.startswith("reading.")):
        if reading not in options and not any(chosen.where is None for chosen in law.chosen.get(reading, ())):
            held = published(book, reading)
            argued = (each for each in book.readings[reading].alternatives if each not in held)
            yield from ({**firsts, reading: each} for each in argued)


def _published_first(book: Book, reading: str, spans: Sequence[Span]) -> list[str]:
    held = published(book, reading)
    words = [str(v) for span in spans if isinstance(span, Some) for v in in_order(span.values)]
    return sorted(words, key=lambda word: word not in held)


def names_behind(book: Book, law: Law, names: Iterable[str]) -> frozenset[str]:
    """These names and every one that they reach, through figures and through the answers that this law gives."""
    reached = names_reached(names, book)
    waiting = [name for name in sorted(reached) if name.startswith("answer.")]
    for name in waiting:  # grows while it is walked
        lower = name.removeprefix("answer.")
        if law.answers(lower):
            rules = law.resolved.tables[lower].rules
            found = names_reached((each for rule in rules for each in names_in_rule(rule)), book)
            waiting += sorted(each for each in found - reached if each.startswith("answer."))
            reached |= found
    return reached
