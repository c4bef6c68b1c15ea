"""Random rulebooks of several tables that take each other's answers: facts that several tables look at, answers that
several take, tables at fault, readings, and layers that change rules."""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from bench.tables import Invented
from proof.books import Maker, chosen_reading, random_facts, values_of
from proof.truth import Record, Truth, over
from resolve.making import amendment, layer, op
from ruling import places, small
from yokebook.code import Code
from yokebook.flat.plain import Plain
from yokebook.law import Law
from yokebook.layers import apply_layer
from yokebook.load.faults import RulebookFaults
from yokebook.model import Book, Box, Cell, Fact, NoneOf, OneOf, Question, Resolved, Step, Table


@dataclass(frozen=True)
class Tangle:
    """A law of tables `layer0`, which is asked, to the last one, which takes no answers."""

    code: Code
    question: str = "layer0"

    @property
    def law(self) -> Law:
        """The one law."""
        law = self.code.in_force["small"].candidates[0].law
        assert law is not None
        return law

    def record(self, rng: random.Random, missing: int = 0) -> dict[str, object]:
        """A record of every fact, so many of them left out."""
        facts = self.code.book.facts
        found: dict[str, object] = {name: rng.choice(values_of(fact)) for name, fact in facts.items()}
        for name in rng.sample(sorted(found), min(missing, len(found))):
            del found[name]
        return found

    def truth(self, record: Record) -> tuple[str, str]:
        """What the definition says of a full record."""
        return Truth(self.law.resolved.tables, {}).ruling(self.question, record)


class _Maker(Maker):
    """As that, with cells on any lower answer."""

    def cell(self, name: str) -> Cell:
        """A cell on an input."""
        if name.startswith("answer."):
            words = frozenset(self.rng.sample(small.OUTCOMES, self.rng.choice((1, 1, 2))))
            return self.rng.choice((OneOf, NoneOf))(words)
        return super().cell(name)


def tangle(rng: random.Random, tables: int, *, readings: bool = False, layers: int = 0) -> Tangle:
    """So many tables; each but the last takes the answer of the next, and now and then one further down."""
    facts = {name: fact for name, fact in random_facts(rng).items() if name.startswith("contact.")}
    facts |= {fact.id: fact for fact in (replace(small.fact(f"more{i}", "choice")) for i in range(tables // 2))}
    maker = _Maker(rng, facts, {})
    names = [f"layer{i}" for i in range(tables)]
    made: dict[str, Table] = {}
    for i, name in enumerate(names):
        below = names[i + 1 :]
        inputs = rng.sample(sorted(facts), rng.randint(1, 3)) + [f"answer.{each}" for each in below[:1]]
        inputs += [f"answer.{each}" for each in rng.sample(below[1:], min(len(below[1:]), rng.choice((0, 0, 1))))]
        if readings and rng.random() < 0.5:
            inputs.append("reading.r")
        while True:
            made[name] = maker.table(name, inputs)
            if not any(winner == loser for winner, loser in over(made[name].rules)):
                break  # rules that prevail over each other in a circle are refused at load
    chosen = (chosen_reading(rng),) if readings and rng.random() < 0.3 else ()
    return law_of(made, facts, chosen, lambda book, below: _with_layers(rng, book, below, maker, layers))


def law_of(
    tables: Mapping[str, Table],
    facts: Mapping[str, Fact] = small.FACTS,
    chosen: tuple[tuple[str, str, Box | None, Step], ...] = (),
    over: Callable[[Book, Resolved], Resolved] = lambda _, below: below,
) -> Tangle:
    """The law of these tables with what is over them."""
    words = {word: word for word in small.OUTCOMES}
    questions = {name: Question(name, "R00", "", "contact", words, frozenset(), small.AT) for name in tables}
    book = replace(small.book(), facts=facts, questions=questions)
    resolved = over(book, Resolved(small.DOCUMENT, "1", None, None, tables, {}, chosen, (), "none"))
    return Tangle(Code(book, places.stands(Law(resolved, book)), None, {}, None, {}))


def _with_layers(rng: random.Random, book: Book, below: Resolved, maker: Maker, layers: int) -> Resolved:
    for i in range(layers):
        below = _layered(rng, book, below, maker, f"over{i}")
    return below


def _layered(rng: random.Random, book: Book, below: Resolved, maker: Maker, name: str) -> Resolved:
    """A layer that adds a rule to some tables and has another one in place of some rules."""
    while True:
        ops = []
        for question in rng.sample(sorted(below.tables), rng.choice((1, 2)) if len(below.tables) > 1 else 1):
            rules = below.tables[question].rules
            inputs = sorted({each for rule in rules for box in rule.where for each in box}) or sorted(maker.facts)
            where = [maker.box(inputs, 3)]
            of: Sequence[str] = rng.sample([rule.id for rule in rules], 1)
            word = rng.choice(small.OUTCOMES)
            if rng.random() < 0.5:
                added = small.rule(f"{question}#{name}", where, word, (), tuple(of))
                ops.append(op("add", added.id, rule=added))
            else:
                ops.append(op("replace", of[0], rule=small.rule(of[0], where, word)))
        try:
            return apply_layer(book, below, layer(name, amendment("A-1", *ops)), drafts=True)
        except RulebookFaults:  # rules that come to prevail over each other in a circle
            continue


def plain_of(made: Tangle | Invented) -> Plain:
    """The tables as tables of facts and answers alone."""
    laws = {"small": [c.law for c in made.code.in_force["small"].candidates if c.law is not None]}
    return Plain(made.code.book, laws, "small", made.code.book.questions[made.question])


def refuse(record: object) -> None:
    """In place of the way that records go which the code made for a question does not decide."""
    raise AssertionError(f"{record} was to be decided by the code alone")
