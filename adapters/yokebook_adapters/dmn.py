"""A table as an OMG DMN 1.5 decision table that other engines can run, and the guard for whoever runs it.

A table in this form knows nothing of what is missing or does not apply. In the rulebook a fact that does not apply is
in no cell; in FEEL it would be `null`, which `not("a")` lets through. So exported tables are only for records in which
every input of the table is given and applies: see `full_record`.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterable, Iterator, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from urllib.parse import quote

from yokebook.law import Law
from yokebook.model import Book, Cite, Fact, FactType, NoneOf, OneOf, Rule, Value
from yokebook.session import answer_of
from yokebook.showing import show_value
from yokebook.words import box_words
from yokebook_adapters.dmn_cells import Row, decimal, feel_text, rows_of, unary_tests
from yokebook_adapters.lines import in_words, many, sentence
from yokebook_adapters.table_text import heading

NAMESPACE = "https://www.omg.org/spec/DMN/20230324/MODEL/"

#: The outcome where no rule fires and the table must not be silent.
SILENT = "silent"

#: What a reader of the file, and whoever feeds it, has to know.
GUARD = "a table in this form must never be fed a record with missing facts, or with facts that do not apply"

_TYPES: dict[FactType, str] = {"choice": "string", "text": "string", "yes_no": "boolean", "number": "number"}
_ANNOTATIONS = ("rule", "document", "section", "checked")


class CannotExport(ValueError):
    """The table has no faithful form as a first-match decision table; the message says why, every reason at once."""


def as_dmn(law: Law, question: str, book: Book, *, conflicts: Sequence[str]) -> str:
    """The table that answers a question as DMN 1.5 XML, hit policy FIRST, exceptions first; the same text each time.

    The first row that matches gives the ruling only where no two rules of the table are in conflict. This function
    proves nothing of the kind: its caller does, and hands over what conflicts it found, each as a sentence. A record
    that cannot occur is answered like any other. Where no rule fires and the table must not be silent, the outcome is
    `silent`. Numbers are in each input's own unit.

    Raises CannotExport where there are conflicts, for a number that no decimal is equal to, for two names that would be
    one in FEEL, and for an outcome that is itself called `silent`; KeyError where the law has no such table.
    """
    ready = law.ready(question)
    if conflicts:
        told = "".join(f"\n- {conflict}" for conflict in conflicts)
        raise CannotExport(
            f"`{question}` cannot be a first-match table: its rules are in conflict, and the first row that matches "
            f"would hide {'it' if len(conflicts) == 1 else 'them'}{told}"
        )
    faults = [*_number_faults(law, question), *_name_faults(law, question, book)]
    if faults:
        raise CannotExport("\n".join(faults))
    return _Export(law, question, book, sorted(ready.inputs)).text()


def variables(law: Law, question: str) -> dict[str, str]:
    """For each input of the table, by letter, the DMN variable it has in the exported file."""
    return {name: variable_name(name) for name in sorted(law.ready(question).inputs)}


def variable_name(name: str) -> str:
    """A name that FEEL reads as one variable: dots are paths to it, and hyphens minus signs.

    >>> variable_name("reading.card-switch")
    'reading_card_switch'
    """
    return re.sub(r"[^A-Za-z0-9_]", "_", name)


def full_record(law: Law, question: str, values: Mapping[str, Value]) -> dict[str, object]:
    """The inputs of an exported table by DMN variable name: text, bool, or Decimal in the input's own unit.

    `values` are by the rulebook's names, such as `control.kind`, as exact values; what is no input of the table is left
    out. A fact that does not apply has no value and counts as missing.

    Raises ValueError that names every input that is missing, or that has a value that it cannot have.
    """
    names = variables(law, question)
    missing = [f"`{name}`" for name in names if name not in values]
    faults = [fault for name in names if name in values and (fault := _value_fault(law, name, values[name]))]
    if missing:
        faults.insert(0, f"{many(len(missing), 'input')} not given: {in_words(missing)}; {GUARD}")
    if faults:
        raise ValueError("\n".join(f"`{question}`: {fault}" for fault in faults))
    return {variable: _plain(values[name]) for name, variable in names.items()}


def _plain(value: Value) -> object:
    return Decimal(decimal(value)) if isinstance(value, Fraction) else value


def _value_fault(law: Law, name: str, value: Value) -> str:
    """Why an input cannot have this value; "" where it can."""
    kind = _type_of(law.book, name)
    wanted = {"boolean": bool, "number": Fraction, "string": str}[kind]
    if not isinstance(value, wanted):
        return f"`{name}` is {show_value(value, None)}; allowed: {_ALLOWED[kind]}"
    if isinstance(value, Fraction):
        try:
            decimal(value)
        except ValueError as fault:
            return f"`{name}` is {value}: {fault}"
    words = _words(law, name)
    if words and value not in words:
        return f"`{name}` is {value}; allowed: {in_words(words, 'or')}"
    return ""


_ALLOWED = {"boolean": "yes or no", "number": "a number", "string": "a word"}


# ---- inputs ---------------------------------------------------------------------------------------------------------


def _type_of(book: Book, name: str) -> str:
    """The FEEL type of an input; answers and readings are words."""
    if name in book.facts:
        return _TYPES[book.facts[name].type]
    if name in book.calculations:
        return _TYPES[book.calculations[name].type]
    return "string"


def _words(law: Law, name: str) -> list[str]:
    """The words that an input can be, in the rulebook's order; none where it is no choice among words.

    A reading that the law has chosen for all records can be nothing else.
    """
    book = law.book
    if name in book.facts:
        return list(book.facts[name].values)
    if name in book.calculations:
        return list(book.calculations[name].values)
    if name.startswith("answer."):
        _, question = answer_of(book, name.removeprefix("answer."), law.kind)
        return list(question.outcomes)
    reading = name.removeprefix("reading.")
    chosen = law.chosen.get(reading, [])
    if chosen and chosen[0].where is None:
        return [chosen[0].alternative]
    return list(book.readings[reading].alternatives)


def _input_values(law: Law, name: str) -> str:
    """The values that an input can have, as unary tests, so that an engine refuses others; "" where any will do."""
    kind = _type_of(law.book, name)
    if kind == "boolean":
        return "true,false"
    words = _words(law, name)
    if words:
        return ",".join(feel_text(word) for word in words)
    fact = law.book.facts.get(name)
    return _domain(fact) if fact is not None and kind == "number" else ""


def _domain(fact: Fact) -> str:
    """A number's domain; "" where it has none, or ends at a number that no decimal is equal to."""
    try:
        low = None if fact.low is None else decimal(fact.low)
        high = None if fact.high is None else decimal(fact.high)
    except ValueError:
        return ""
    if low is not None and high is not None:
        return f"{'(' if fact.low_open else '['}{low}..{high}{')' if fact.high_open else ']'}"
    if low is not None:
        return f"{'>' if fact.low_open else '>='} {low}"
    return "" if high is None else f"{'<' if fact.high_open else '<='} {high}"


# ---- what cannot be exported ----------------------------------------------------------------------------------------


def _number_faults(law: Law, question: str) -> Iterator[str]:
    ready = law.ready(question)
    told: set[tuple[str, str, Fraction]] = set()
    for at in ready.boxes:
        rule = ready.rules[at.rule].id
        for name, cell in at.box.items():
            ends = cell.values if isinstance(cell, OneOf | NoneOf) else (cell.low, cell.high)
            for number in sorted(end for end in ends if isinstance(end, Fraction)):
                try:
                    decimal(number)
                except ValueError as fault:
                    if (rule, name, number) not in told:
                        yield f"`{rule}` compares `{name}` with {number}, and {fault}"
                    told.add((rule, name, number))


def _name_faults(law: Law, question: str, book: Book) -> Iterator[str]:
    names: dict[str, str] = {_outcome_name(question): "the outcome"}
    for name, variable in variables(law, question).items():
        if variable in names:
            yield f"`{question}`: {names[variable]} and `{name}` would both be the variable `{variable}`"
        names[variable] = f"`{name}`"
    if SILENT in book.questions[question].outcomes and law.ready(question).table.none_fires.then is None:
        yield f"`{question}` has an outcome `{SILENT}`, which here stands for no outcome at all"


def _outcome_name(question: str) -> str:
    return f"outcome_{variable_name(question)}"


# ---- the file -------------------------------------------------------------------------------------------------------


class _Export:
    """One table on its way to XML. Elements carry no prefix: the document has one namespace, the standard's own."""

    def __init__(self, law: Law, question: str, book: Book, inputs: list[str]) -> None:
        self.law = law
        self.ready = law.ready(question)
        self.question = book.questions[question]
        self.book = book
        self.inputs = inputs
        self.name = _outcome_name(question)

    def text(self) -> str:
        resolved = self.law.resolved
        where = [resolved.document.id, resolved.edition, resolved.place, self.question.id]
        root = ET.Element("definitions", xmlns=NAMESPACE, id="table", name=variable_name(self.question.id))
        root.set("namespace", quote(f"urn:yokebook:{':'.join(part for part in where if part)}", safe=":/"))
        root.set("exporter", "yokebook")
        ET.SubElement(root, "description").text = self._description()
        for name in self.inputs:
            variable = variable_name(name)
            data = ET.SubElement(root, "inputData", id=f"input_{variable}", name=variable, label=name)
            ET.SubElement(data, "variable", name=variable, typeRef=_type_of(self.book, name))
        self._decision(root)
        ET.indent(root)
        body = ET.tostring(root, encoding="unicode", short_empty_elements=True)
        return f'<?xml version="1.0" encoding="UTF-8"?>\n{body}\n'

    def _description(self) -> str:
        """What table this is, what it is not for, the readings chosen, and the cautions."""
        lines = [heading(self.law.resolved, self.question.id, self.book), sentence(GUARD)]
        readings = [name for name in self.inputs if name.startswith("reading.")]
        for name in readings:
            for chosen in self.law.chosen.get(name.removeprefix("reading."), []):
                where = "" if chosen.where is None else f" where {box_words(chosen.where, self.law.resolved.values)}"
                lines.append(f"{name}: {chosen.step.by} chose `{chosen.alternative}`{where}.")
        return "\n".join([*lines, *(sentence(caution) for caution in self.book.cautions)])

    def _decision(self, root: ET.Element) -> None:
        decision = ET.SubElement(root, "decision", id="decision", name=self.name, label=self.question.id)
        ET.SubElement(decision, "question").text = self.question.asks
        ET.SubElement(decision, "variable", name=self.name, typeRef="string")
        for name in self.inputs:
            needs = ET.SubElement(decision, "informationRequirement")
            ET.SubElement(needs, "requiredInput", href=f"#input_{variable_name(name)}")
        table = ET.SubElement(decision, "decisionTable", id="rows", hitPolicy="FIRST")
        for name in self.inputs:
            self._input(table, name)
        # the standard wants a name only where there are several outputs; a single one has the decision's name
        output = ET.SubElement(table, "output", id="output", typeRef="string")
        words = [*self.question.outcomes, *([SILENT] if self.ready.table.none_fires.then is None else [])]
        _text(output, "outputValues", ",".join(feel_text(word) for word in words))
        for annotation in _ANNOTATIONS:
            ET.SubElement(table, "annotation", name=annotation)
        self._rows(table)

    def _input(self, table: ET.Element, name: str) -> None:
        column = ET.SubElement(table, "input", id=f"column_{variable_name(name)}", label=name)
        expression = ET.SubElement(column, "inputExpression", typeRef=_type_of(self.book, name))
        ET.SubElement(expression, "text").text = variable_name(name)
        values = _input_values(self.law, name)
        if values:
            _text(column, "inputValues", values)

    def _rows(self, table: ET.Element) -> None:
        boxes = self.ready.boxes
        number = 0
        for i, rule in enumerate(self.ready.rules):
            where = [at.box for at in boxes if self.ready.where[i] >> at.bit & 1]
            but_not = [at.box for at in boxes if self.ready.but_not[i] >> at.bit & 1]
            for row in rows_of(where, but_not):
                number += 1
                self._row(table, number, row, rule.then, self._rule_notes(rule))
        none = self.ready.table.none_fires
        self._row(table, number + 1, {}, none.then or SILENT, ["none fires", *self._cite(none.cite), none.checked.mark])

    def _rule_notes(self, rule: Rule) -> list[str]:
        return [rule.id, *self._cite(rule.cite), rule.checked.mark]

    def _cite(self, cite: Cite | None) -> tuple[str, str]:
        if cite is None:
            return "", ""
        document = self.book.documents.get(cite.document)
        return document.title if document else cite.document, cite.section

    def _row(self, table: ET.Element, number: int, row: Row, then: str, notes: Iterable[str]) -> None:
        element = ET.SubElement(table, "rule", id=f"row_{number}")
        for name in self.inputs:
            _text(element, "inputEntry", unary_tests(row.get(name)))
        _text(element, "outputEntry", feel_text(then))
        for note in notes:
            _text(element, "annotationEntry", note)


def _text(parent: ET.Element, tag: str, text: str) -> None:
    ET.SubElement(ET.SubElement(parent, tag), "text").text = text
