"""Pins: eight hexadecimal digits over what a rule, value or reading means, so that an amendment whose base has moved
is found. Editorial fields (says, cite, checked, positions) never count."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from hashlib import sha256
from typing import NamedTuple

from yokebook.canonical_rules import Canonical, Writer
from yokebook.changes import question_of, target_of
from yokebook.load.faults import Fault, RulebookFaults, suggest
from yokebook.model import Book, Calculation, NoneFires, NumberValue, Op, Reading, Resolved, Rule, Table
from yokebook.reach import answer_named, names_in_boxes, names_in_expression, names_in_rule
from yokebook.units import format_number
from yokebook.words import box_words, boxes_words, exception_words, expression_words, rule_words


class Pinned(NamedTuple):
    """A pin, and in order what it was made over, part by part in words and as canonical data.

    `numbers` holds the named numbers that the parts use, as exact text; the parts have them in already.
    """

    pin: str
    parts: Mapping[str, str]
    digests: Mapping[str, str]
    canonical: Mapping[str, Canonical]
    numbers: Mapping[str, str]


@dataclass(frozen=True)
class RecordedPart:
    """A part of a text as it was pinned; `canonical` is None in records that keep only its words."""

    digest: str
    words: str
    canonical: Canonical = None


@dataclass(frozen=True)
class RecordedPin:
    """What a pin was made over when it was written, as a record keeps it.

    `whole`: whether the record keeps what the old text can be made of again, or words and digests only.
    """

    pin: str
    parts: Mapping[str, RecordedPart]
    whole: bool = False
    numbers: Mapping[str, str] = field(default_factory=dict)
    editorial: Mapping[str, str] = field(default_factory=dict)


def pin_of_op(below: Resolved, book: Book, op: Op) -> Pinned | None:
    """The pin due for an op, from the text below its layer. None where the op names nothing there."""
    kind, name = target_of(op)
    try:
        return _pinned(below, book, kind, name)
    except KeyError:
        return None


def pin_of(below: Resolved, book: Book, target: str) -> Pinned:
    """The pin of a rule (full id), of `TABLE#none_fires`, of a named number (`value.ID`) or of a reading
    (`reading.ID`) as the document below leaves it; a bare id is a named number if there is one, else a reading.

    Raises RulebookFaults where there is no such thing.
    """
    if "#" in target:
        kind, name = ("none_fires" if target.endswith("#none_fires") else "rule"), target
    elif target.startswith("value.") or target in below.values:
        kind, name = "value", target.removeprefix("value.")
    else:
        kind, name = "reading", target.removeprefix("reading.")
    try:
        return _pinned(below, book, kind, name)
    except KeyError:
        known = [r.id for t in below.tables.values() for r in t.rules]
        known += [*(f"value.{v}" for v in below.values), *(f"reading.{r}" for r in book.readings)]
        where = f"{below.document.id} {below.edition}"
        raise RulebookFaults([Fault("target", f"{where} has no `{target}`{suggest(target, known)}")]) from None


def _pinned(below: Resolved, book: Book, kind: str, name: str) -> Pinned:
    gather = _Gather(below, book)
    if kind == "value":
        gather.value(below.values[name])
    elif kind == "reading":
        gather.reading(book.readings[name])
    else:
        table = below.tables[question_of(name)]
        if kind == "none_fires":
            gather.part("then", table.none_fires.then, table.none_fires.then or "forbidden")
        else:
            gather.rule({rule.id: rule for rule in table.rules}[name])
    return gather.pinned(kind, name)


def wording_of_op(below: Resolved, book: Book, op: Op) -> dict[str, str]:
    """How the base of an op is worded, cited and checked, as text by field: what no pin counts. Raises KeyError where
    the op names nothing below."""
    kind, name = target_of(op)
    if kind == "reading":
        reading = book.readings[name]
        says = {f"{each.id} says": each.says for each in reading.alternatives.values()}
        return {"asks": reading.asks, "section": reading.cite.section, "because": reading.plain_because, **says}
    row: Rule | NoneFires | NumberValue
    if kind == "value":
        row = below.values[name]
    else:
        table = below.tables[question_of(name)]
        row = table.none_fires if kind == "none_fires" else {rule.id: rule for rule in table.rules}[name]
    cited = {} if row.cite is None else {"section": row.cite.section}
    return {"says": row.says, **cited, "checked": row.checked.mark}


def digest_of_table(resolved: Resolved, book: Book, question: str) -> str:
    """Eight hexadecimal digits over a table and all that it reaches in its document: two laws in which it is the same
    rule alike on the question, other documents' answers apart."""
    gather = _Gather(resolved, book, told=False)
    gather.table(question, resolved.tables[question])
    return digest(dict(gather.canonical))


def digest(canonical: Canonical) -> str:
    """The first eight hexadecimal digits of SHA-256 over the canonical JSON: keys sorted, no spaces, UTF-8."""
    text = json.dumps(canonical, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return sha256(text.encode("utf-8")).hexdigest()[:8]


# ---- gathering the parts ----------------------------------------------------------------------------------------


@dataclass
class _Gather:
    """Takes up the parts of one pin, each once, following what they name."""

    below: Resolved
    book: Book
    canonical: dict[str, Canonical] = field(default_factory=dict)
    words: dict[str, str] = field(default_factory=dict)
    numbers: dict[str, str] = field(default_factory=dict)
    told: bool = True  # whether the parts are also put into words

    @cached_property
    def write(self) -> Writer:
        return Writer(self.below.values, self.numbers)

    def pinned(self, kind: str, name: str) -> Pinned:
        whole: Canonical = {"kind": kind, "id": name, "parts": dict(self.canonical)}
        digests = {part: digest(c) for part, c in self.canonical.items()}
        numbers = dict(sorted(self.numbers.items()))
        return Pinned(digest(whole), self.words, digests, self.canonical, numbers)

    def part(self, name: str, canonical: Canonical, words: str | Callable[[], str]) -> None:
        self.canonical[name] = canonical
        if self.told:
            self.words[name] = words if isinstance(words, str) else words()

    def rule(self, rule: Rule) -> None:
        """The normative fields, then what they name."""
        values = self.below.values
        fields = self.write.rule(rule)
        self.part("where", fields["where"], boxes_words(rule.where, values))
        self.part("but not", fields["but_not"], boxes_words(rule.but_not, values))
        self.part("then", fields["then"], rule.then)
        self.part("exception to", fields["exception_to"], exception_words(rule))
        self.part("prevails over", fields["prevails_over"], ", ".join(sorted(rule.prevails_over)) or "none")
        self.follow(names_in_rule(rule))

    def value(self, value: NumberValue) -> None:
        self.part("value", f"{value.value} {value.unit or ''}".strip(), format_number(value.value, value.unit))
        self.part("stricter", value.stricter, value.stricter)

    def reading(self, reading: Reading, prefix: str = "") -> None:
        """The alternatives with their standing, the plain one, and what layers below have chosen."""
        standing = {a.id: a.standing for a in reading.alternatives.values()}
        write, values = self.write, self.below.values
        made = [(alt, where) for name, alt, where, _ in self.below.chosen if name == reading.id]
        chosen: list[Canonical] = [[alt, None if box is None else write.box(box)] for alt, box in made]
        told = [alt if box is None else f"{alt} where {box_words(box, values)}" for alt, box in made]
        parts: list[tuple[str, Canonical, str]] = [
            ("alternatives", {**standing}, ", ".join(f"{a} ({s})" for a, s in sorted(standing.items()))),
            ("plain", reading.plain, reading.plain),
            ("chosen below", chosen, "; then ".join(told) or "none"),
        ]
        if not prefix:
            for name, canonical, words in parts:
                self.part(name, canonical, words)
        else:
            together = "; ".join(f"{name}: {words}" for name, _, words in parts)
            self.part(prefix, {name: canonical for name, canonical, _ in parts}, together)
        self.follow(name for _, box in made if box is not None for name in names_in_boxes([box]))

    def follow(self, names: Iterable[str]) -> None:
        """Take up each reading, calculation and lower table named, and what these name. Facts have no text below."""
        for name in sorted(set(names)):
            answer = answer_named(name, self.book)
            if name in self.canonical:
                continue
            if name.startswith("reading.") and name.removeprefix("reading.") in self.book.readings:
                self.reading(self.book.readings[name.removeprefix("reading.")], name)
            elif name in self.book.calculations:
                self.calculation(self.book.calculations[name])
            elif answer is not None and answer[0] in (None, self.below.document.kind):
                if answer[1] in self.below.tables:
                    self.table(name, self.below.tables[answer[1]])
            elif answer is not None:
                # which document of the other kind is in force hangs on the project's dates: only its question counts
                self.part(name, name, f"answered by the {answer[0]} document in force, whose table is no part of this")

    def calculation(self, calculation: Calculation) -> None:
        unit = "" if calculation.unit is None else f", in {calculation.unit}"
        canonical = self.write.calculation(calculation)
        self.part(
            calculation.id, canonical, lambda: expression_words(calculation.expression, self.below.values) + unit
        )
        self.follow(names_in_expression(calculation.expression))

    def table(self, name: str, table: Table) -> None:
        self.part(name, self.write.table(table), lambda: self._table_words(table))
        self.follow(each for rule in table.rules for each in names_in_rule(rule))

    def _table_words(self, table: Table) -> str:
        rules = sorted(table.rules, key=lambda rule: rule.id)
        told = [f"{rule.id}: {rule_words(rule, self.below.values)}" for rule in rules]
        told.append(f"where no rule fires: {table.none_fires.then or 'forbidden'}")
        return ". ".join(told)
