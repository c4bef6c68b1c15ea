"""A comparison of two laws as text for people: what shrank first, then what grew, then the rest."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from yokebook.model import Book
from yokebook.proof.changes import Change, Changes, TableChange, Through, Witness
from yokebook_adapters.check_text import example, name_lines, record_lines
from yokebook_adapters.compare_project_text import CompareProject, project_lines, rule_lines
from yokebook_adapters.lines import WIDTH, caution_lines, in_words, many, sentence, wrap

#: The headings, in the order in which changes are told: a duty that shrank must be seen.
HEADINGS = {"less strict": "LESS STRICT", "stricter": "STRICTER", "neither": "OTHERWISE"}


@dataclass(frozen=True)
class Compared:
    """What was compared: the two laws as they were asked for, what changes, and the projects ruled under both."""

    was: str
    now: str
    changes: Changes
    projects: Sequence[CompareProject] = ()
    refused: Sequence[str] = ()
    notes: Sequence[str] = ()  # what each draft stands for


def render(compared: Compared, book: Book, *, everything: bool = False, width: int = WIDTH) -> str:
    """The comparison as text. `everything` lists every region of a change and every question that stays the same."""
    text = _Text(book, everything, width)
    changes = compared.changes
    lines = text.head(compared)
    for direction, heading in HEADINGS.items():
        here = [change for change in changes.changes if change.direction == direction]
        lines += _section(f"{heading} ({len(here)})", [text.change(change) for change in boundaries_last(here)])
    lines += _section("QUESTIONS THAT COME OR GO", [text.table(table) for table in changes.tables])
    lines += _section("THROUGH WHAT LIES BELOW", [text.through(each) for each in changes.through])
    lines += _section("NAMED NUMBERS", text.numbers(changes), apart=False)
    lines += _section("READINGS CHOSEN", text.readings(changes), apart=False)
    undecided = [text.para(f"{each['question']}: too many cases to compare", 0) for each in changes.not_decided]
    lines += _section("NOT DECIDED", undecided, apart=False)
    if not any(each.compared for each in changes.documents):
        lines += ["", *text.para("Nothing was compared: no kind of document is in force on both sides.", 0)]
    elif not changes:
        lines += ["", "Nothing changes."]
    for project in compared.projects:
        lines += ["", *project_lines(project, everything, width)]
    lines += _section("REFUSED", [text.para(fault, 0) for fault in compared.refused], apart=False)
    lines += _section("NAMES", [name_lines(names_in(changes, book, everything), book, width)], apart=False)
    cautions = caution_lines(book.cautions, width)
    return "\n".join([*lines, *([""] if cautions else []), *cautions]) + "\n"


def _section(heading: str, blocks: Iterable[list[str]], *, apart: bool = True) -> list[str]:
    """A heading and the blocks under it, with an empty line between them where they stand apart; nothing for none."""
    lines: list[str] = []
    for block in blocks:
        lines += (["", *block] if apart and lines else block) if block else []
    return ["", heading, *lines] if lines else []


def boundaries_last(changes: Iterable[Change]) -> list[Change]:
    """The changes, those last that come about only where a number is exactly at its boundary."""
    return sorted(changes, key=lambda change: change.boundary_only)


@dataclass(frozen=True)
class _Text:
    book: Book
    everything: bool
    width: int

    def para(self, text: str, indent: int) -> list[str]:
        """One paragraph."""
        return wrap(text, self.width, indent)

    def head(self, compared: Compared) -> list[str]:
        """What was compared, and how many questions stay as they are."""
        changes = compared.changes
        lines = [*self.para(f"old: {compared.was}", 0), *self.para(f"new: {compared.now}", 0)]
        for each in changes.documents:
            lines += self.para(f"{each.kind}, old: {each.was or 'nothing is said of such documents'}", 2)
            lines += self.para(f"{each.kind}, new: {each.now or 'nothing is said of such documents'}", 2)
            if not each.compared:
                lines += self.para("only one side has a document of this kind, so its tables are not compared", 4)
        for note in compared.notes:
            lines += self.para(note, 0)
        if changes.same:
            names = in_words(each["question"] for each in changes.same) if self.everything else ""
            stay = "question stays" if len(changes.same) == 1 else "questions stay"
            lines += self.para(f"{len(changes.same)} {stay} as before{f': {names}' if names else ''}", 0)
        return lines

    # ---- changes of tables ------------------------------------------------------------------------------------------

    def change(self, change: Change) -> list[str]:
        """One (old, new) of one question."""
        question = self.book.questions[change.question]
        where = " where" if change.regions[0] else " everywhere"
        lines = self.para(f"{change.question}: {arrow(change.was.word, change.now.word)},{where}", 0)
        for number, region in enumerate(change.regions if self.everything else change.regions[:1]):
            lines += ["  or where"] if number else []
            lines += [line for cell in region for line in self.para(region_cell_text(cell, self.book), 4)]
        for text in (boundary_text(change, self.everything), more_text(change, self.everything)):
            lines += self.para(text, 2)
        lines += self.para(f"{question.asks} Old: {change.was.says}. New: {change.now.says}.", 2)
        return lines + self._witness(change.witness, in_table=True)

    def _witness(self, witness: Witness, *, in_table: bool) -> list[str]:
        if witness.record is None:
            at = "; ".join(f"{name} {value}" for name, value in witness.point.items())
            text = "no building was found in which this comes about; it may be that none can be"
            lines = self.para(f"{text}. In the table: {at}" if at and in_table else text, 2)
        else:
            lines = [*self.para(f"for example {example(witness.record)}", 2), *record_lines(witness.record, self.width)]
        for cell in witness.moved:
            lines += self.para(f"where {cell['input']} was {cell['was']} and is now {cell['now']}", 4)
        return [*lines, *rule_lines("old", witness.was, self.width), *rule_lines("new", witness.now, self.width)]

    def table(self, table: TableChange) -> list[str]:
        """A question that only one side answers."""
        verb = "asked only now" if table.state == "appears" else "no longer asked"
        lines = self.para(f"{table.question}: {verb}{f', by {table.by}' if table.by else ''}", 0)
        outcomes = "; ".join(f"{word}: {says}" for word, says in table.outcomes.items())
        lines += self.para(f"{table.asks} {outcomes}.", 2)
        return lines + rule_lines("rule", table.rules, self.width)

    # ---- what lies below --------------------------------------------------------------------------------------------

    def through(self, each: Through) -> list[str]:
        """A question that reaches something that changed."""
        own = "its own table says the same" if each.same_table else "besides what its own table changes"
        lines = self.para(f"{each.question}: {own}, and rulings may change through", 0)
        for cause in each.because:
            lines += self.para(cause, 4)
        if not each.shown:
            lines += self.para("no building was found whose ruling changes so; there may be some all the same", 2)
        for shown in each.shown:
            lines += self.para(f"{arrow(shown.was.word, shown.now.word)} ({shown.direction})", 2)
            lines += self._witness(shown.witness, in_table=False)
        return lines

    def numbers(self, changes: Changes) -> Iterable[list[str]]:
        """The named numbers that are not the same."""
        for number in changes.numbers:
            moved = arrow(number.was or "not set", number.now or "not set")
            way = "" if number.direction == "neither" else f" ({number.direction})"
            cites = [f"{cite['document']} {cite['section']}" for cite in number.cites if cite is not None]
            where = "; ".join(dict.fromkeys(cites))
            yield self.para(f"value.{number.id}: {moved}{way}, by {number.by}; {where}. {sentence(number.says)}", 0)

    def readings(self, changes: Changes) -> Iterable[list[str]]:
        """The readings that the two sides do not choose alike."""
        for reading in changes.readings:
            moved = arrow(reading.was, reading.now)
            yield self.para(f"reading.{reading.id}: {moved}, by {reading.by}. {sentence(reading.asks)}", 0)


# ---- what is told of a change ---------------------------------------------------------------------------------------


def names_in(changes: Changes, book: Book, everything: bool) -> list[str]:
    """The names of facts and figures in what is told of changes, each once."""
    found: dict[str, None] = {}
    for change in changes.changes:
        for region in change.regions if everything else change.regions[:1]:
            found |= dict.fromkeys(cell["input"] for cell in region)
    shown = [change.witness for change in changes.changes]
    for witness in (*shown, *(each.witness for through in changes.through for each in through.shown)):
        if witness.record is not None:
            found |= dict.fromkeys(fact["fact"] for fact in witness.record["facts"])
        found |= dict.fromkeys(cell["input"] for cell in witness.moved)
    return [name for name in found if name in book.facts or name in book.calculations]


def region_cell_text(cell: Mapping[str, str], book: Book) -> str:
    """One input of a region: its name, the values, and of a reading or an answer what the value means."""
    name, values = cell["input"], cell["is"]
    words = _words(name, values, book)
    return f"{name}: {values}{f' ({words})' if words else ''}"


def _words(name: str, values: str, book: Book) -> str:
    """What the one value of a reading or of another question's answer means, in trade words."""
    if name.startswith("reading."):
        reading = book.readings[name.removeprefix("reading.")]
        return _plain(reading.alternatives[values].says) if values in reading.alternatives else ""
    for question in book.questions.values():
        if name.startswith("answer.") and name.endswith(f".{question.id}"):
            return question.outcomes.get(values, "")
    return ""


def boundary_text(change: Change, everything: bool) -> str:
    """Where a change comes about only at the boundary of a number; empty where it does beside it too."""
    edges = in_words(f"{cell['input']} exactly {cell['is']}" for cell in change.at_boundary)
    if change.boundary_only:
        return f"only at the boundary: {edges}"
    return f"in part only at the boundary: {edges}" if change.at_boundary and everything else ""


def more_text(change: Change, everything: bool) -> str:
    """How many further parts a change has that are not told; empty for none."""
    if everything:
        return f"and {many(change.more, 'further part')}, not listed" if change.more else ""
    further = len(change.regions) - 1 + change.more
    return f"and in {many(further, 'further part')}; --all lists them" if further else ""


def arrow(was: str, now: str) -> str:
    """From what to what."""
    return f"{was} -> {now}"


def _plain(text: str) -> str:
    """A description as part of a sentence: without what it adds after a semicolon, and without its full stop."""
    text = text.partition(";")[0].rstrip(".")
    return text[:1].lower() + text[1:]


def as_data(compared: Compared, book: Book, exit_status: int) -> dict[str, Any]:
    """The comparison as JSON-able data."""
    return {
        "exit_status": exit_status,
        "was": compared.was,
        "now": compared.now,
        "drafts": list(compared.notes),
        **compared.changes.to_dict(),
        "projects": [{"file": project.file, **project.changes.to_dict()} for project in compared.projects],
        "refused": list(compared.refused),
        "cautions": list(book.cautions),
    }
