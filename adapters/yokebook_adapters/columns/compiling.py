"""One question over columns as one SELECT: what each row settles, and what the others have in common."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import product

from sqlglot import exp

from yokebook.code import Code
from yokebook.intake.vocabulary import vocabulary
from yokebook.law import Law, LawFault
from yokebook.model import Book
from yokebook.session import published
from yokebook_adapters.columns.given import Holds, SourceColumn, Words, source_columns, take
from yokebook_adapters.columns.guards import fit
from yokebook_adapters.columns.inputs import Inputs, World
from yokebook_adapters.columns.keys import Part, joined, parts_of_key, row_key
from yokebook_adapters.columns.logic import (
    Sql,
    Steps,
    atom,
    both,
    case,
    column,
    constant,
    either,
    given,
    missing,
    negated,
    null,
    surely,
    text,
)
from yokebook_adapters.columns.marks import Marks
from yokebook_adapters.columns.tables import Standing, Tables, outcome

#: Names of the columns that are added to a table.
OUTCOME, RULES, ASK, HELD, BY, FAULTS = (
    f"ruling.{name}" for name in ("outcome", "rules", "ask", "also_held", "by", "faults")
)
ADDED = (OUTCOME, RULES, ASK, HELD, BY, FAULTS)

#: How many combinations of readings are ruled side by side; past it a row on which more turn is not settled.
_MOST_WORLDS = 8


@dataclass(frozen=True)
class Compiled:
    """A question over columns. `select` gives its SQL; rows in which `BY` is NULL are the evaluator's."""

    question: str
    document: str | None
    code: Code
    columns: tuple[SourceColumn, ...]
    all_columns: tuple[str, ...]  # of the table, in order
    steps: Steps
    outcome: Sql
    rules: Sql
    key: tuple[Part, ...]

    def select(self, source: Sql, kept: Sequence[str] | None = None, *, keyed: bool = True) -> exp.Select:
        """Every row of a source: the columns to keep (default: all), what SQL settles of it, and with `keyed` the key
        that rows have in common which the evaluator rules alike (`KEY`, NULL where the row is settled)."""
        results = [(name, column(name)) for name in (self.all_columns if kept is None else kept)]
        settled = given(self.outcome)
        results += [
            (OUTCOME, self.outcome),
            (RULES, case([(settled, self.rules)], null())),
            (BY, case([(settled, text("columns"))], null())),
        ]
        if keyed:
            results.append((KEY, case([(missing(self.outcome), row_key(self.key))], null())))
        return self.steps.select(source, results)


KEY = "ruling.key"


def compile_question(
    code: Code,
    question: str,
    columns: Iterable[tuple[str, Holds]],
    document: str | None = None,
    *,
    facts: Mapping[str, str] | None = None,
    words: Mapping[str, Words] | None = None,
) -> Compiled:
    """A question over a table with these columns: (name, what it holds), in order. `facts` says which columns give
    which facts, where they are not named after them; `words` are the different words found in text columns.

    Raises InputFaults for columns that cannot be read, ValueError where no document, or more than one, answers.
    """
    every = list(columns)
    found = source_columns(every, vocabulary(code.book), facts)
    steps = Steps()
    taken = [take(source, None if words is None else words.get(source.name)) for source in found]
    inputs = Inputs(code, taken, steps)
    law = _law(inputs, question, document)
    try:
        settled, rules = (null(), null()) if law is None else _settled(inputs, law, question)
    except LawFault:
        settled, rules = null(), null()  # the evaluator says what the law lacks
    return Compiled(
        question, document, code, tuple(found), tuple(name for name, _ in every), steps, settled, rules,
        tuple(parts_of_key(inputs, law, question)),
    )  # fmt: skip


def _law(inputs: Inputs, question: str, document: str | None) -> Law | None:
    """The one law that answers; None where which entry governs is open, or nobody entered it."""
    law = inputs.law_of(inputs.code.kind(question, document))
    return law if law is not None and law.answers(question) else None


def _settled(inputs: Inputs, law: Law, question: str) -> tuple[Sql, Sql]:
    """The word of each row that SQL settles (with `would be` where it rests on what was not checked), else NULL; and
    the rules that stand."""
    tables = Tables(inputs)
    plain, argued = _worlds(inputs.book, tables.readings(law, question))
    standing = [tables.standing(law, question, world) for world in plain]
    word = inputs.steps.name("~word", outcome(standing[0]))
    others = [outcome(each) for each in standing[1:]] + [tables.word(law, question, world) for world in argued]
    marks = Marks(tables, law, question, plain)
    not_checked = marks.not_checked(standing[0])
    arms: list[tuple[Sql, Sql]] = [
        (negated(inputs.steps.name("~fit", fit(inputs, law))), null()),
        (missing(word), null()),
        *((_differs(standing[0], each), null()) for each in standing[1:]),
        *((negated(surely(same_word(inputs, other, word))), null()) for other in others),
        (missing(not_checked), null()),
        (not_checked, exp.DPipe(this=text("would be "), expression=word.copy())),
    ]
    settled = inputs.steps.name("~settled", case(arms, word))
    return settled, _rules(inputs, standing[0])


def same_word(inputs: Inputs, other: Sql, word: Sql) -> Sql:
    """Whether the word of another world is this one; NULL where either is not known."""
    if constant(other) is None:
        return null()
    return exp.EQ(this=atom(inputs.steps.name("~other word", other)), expression=atom(word))


def _worlds(book: Book, readings: Sequence[str]) -> tuple[list[World], list[World]]:
    """The combinations of published alternatives, each ruled by itself; and those in which every reading that has
    argued alternatives is open, or has each of them, so that what they all say is said whatever is held."""
    several: dict[str, tuple[list[str], list[str]]] = {}
    plain: dict[str, str | None] = {}
    argued: dict[str, str | None] = {}
    for reading in readings:
        counted, everything = published(book, reading), list(book.readings[reading].alternatives)
        if len(counted) == 1:
            plain[reading] = counted[0]
            argued[reading] = counted[0] if len(everything) == 1 else None
        else:
            several[reading] = (counted, everything)
    while _count(several) > _MOST_WORLDS:
        reading, _ = several.popitem()
        plain[reading] = argued[reading] = None
    return (
        [{**plain, **each} for each in _combined({r: counted for r, (counted, _) in several.items()})],
        [{**argued, **each} for each in _combined({r: everything for r, (_, everything) in several.items()})],
    )


def _count(several: Mapping[str, tuple[list[str], list[str]]]) -> int:
    total = 1
    for _, everything in several.values():
        total *= len(everything)
    return total


def _combined(alternatives: Mapping[str, Sequence[str]]) -> list[dict[str, str]]:
    return [dict(zip(alternatives, taken, strict=True)) for taken in product(*alternatives.values())]


def _differs(one: Standing, other: Standing) -> Sql:
    """Whether other rules stand in another world, or it is open which; never NULL."""
    pairs = zip(one.stands, other.stands, strict=True)
    apart = [
        negated(surely(exp.EQ(this=mine.copy(), expression=theirs.copy()))) for mine, theirs in pairs if mine != theirs
    ]
    return either(apart)


def _rules(inputs: Inputs, standing: Standing) -> Sql:
    """The ids of the rules that stand, in the table's order, with commas between."""
    order = {rule.id: i for i, rule in enumerate(standing.ready.table.rules)}
    pairs = sorted(zip(standing.ready.rules, standing.stands, strict=True), key=lambda pair: order[pair[0].id])
    can_stand = [(rule.id, surely(its)) for rule, its in pairs if constant(its) not in (False, None)]
    if not can_stand:
        return text("")
    arms = [(negated(either(its for _, its in can_stand)), text(""))]
    for rule, its in can_stand:
        alone = both([its, *(negated(other) for name, other in can_stand if name != rule)])
        arms.append((alone, text(rule)))
    every = joined(case([(its, text(f", {rule}"))], text("")) for rule, its in can_stand)
    several = exp.Substring(this=every, start=exp.Literal.number(3))
    return inputs.steps.name("~rules", case(arms, several))
