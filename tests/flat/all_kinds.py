"""Random rulebooks with facts, figures and combinations of every kind of thing, and flat records for them that say
little of most things: what stands for one that nobody gave, what is around one, what applies."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from ruling import places, small
from yokebook.code import Code
from yokebook.entities import KINDS, LISTS, ONE, PREFIX, Kind
from yokebook.model import (
    Book,
    Box,
    ByReading,
    Calculation,
    Cell,
    Fact,
    Impossible,
    NoneOf,
    OneOf,
    Over,
    Table,
    WhereBox,
    Within,
)

#: What a record may say of references and lists.
SAID: Mapping[str, Sequence[object]] = {
    **dict.fromkeys(("contact.load", "contact.circuit", "receptacle.wall"), ("none",)),
    **dict.fromkeys(("contact.controls.complete", "circuit.contacts.complete", "space.yokes.complete"), (True, False)),
}
WORDS = {"a": "choice", "b": "yes_no", "n": "number"}


@dataclass(frozen=True)
class AllKinds:
    """The law of the tables `upper` and `lower`, and the facts that matter."""

    code: Code
    facts: Mapping[str, Fact]

    def records(self, rng: random.Random, count: int) -> Iterator[dict[str, object]]:
        """Records of which most differ little from the one before."""
        record: dict[str, object] = {}
        for _ in range(count):
            if not record or rng.random() < 0.3:
                names = [name for name in self.facts if rng.random() < 0.3]
                record = {name: _value(rng, self.facts[name]) for name in names}
                record |= {key: rng.choice(said) for key, said in SAID.items() if rng.random() < 0.2}
            else:
                record = dict(record)
                key = rng.choice(sorted({*self.facts, *SAID}))
                if record.pop(key, None) is None or rng.random() < 0.7:
                    record[key] = _value(rng, self.facts[key]) if key in self.facts else rng.choice(SAID[key])
            yield record


def _value(rng: random.Random, fact: Fact) -> object:
    if fact.type == "number":
        return rng.choice((Fraction(rng.randint(0, 4)), float(rng.randint(0, 4)), rng.randint(0, 4)))
    return rng.choice("abc") if fact.type == "choice" else rng.random() < 0.5


class _Maker:
    """Draws the parts of one rulebook."""

    def __init__(self, rng: random.Random) -> None:
        self.rng = rng
        self.facts: dict[str, Fact] = {}
        for kind in KINDS:
            self.facts |= places.facts_of(kind, *(small.fact(name, type_) for name, type_ in WORDS.items()))
        renamed = {name.replace("yoke.", "receptacle."): fact for name, fact in self.facts.items()}
        self.facts = {name: replace(fact, id=name) for name, fact in renamed.items()}
        self.inputs = dict(self.facts)
        for kind in rng.sample(KINDS, 3):
            name = f"{PREFIX[kind]}.n"
            near = [each for each in self.near(kind) if self.facts[each].type != "number"]
            self.facts[name] = replace(self.facts[name], applies_when=self.box(near, 2))

    def near(self, kind: Kind) -> list[str]:
        """What a cell of a table asked of things of a kind may name."""
        return [name for name, fact in self.inputs.items() if fact.entity in (kind, *ONE[kind])]

    def box(self, names: Sequence[str], most: int) -> Box:
        """Cells on some of these."""
        return {name: self.cell(name) for name in self.rng.sample(names, min(len(names), self.rng.randint(1, most)))}

    def cell(self, name: str) -> Cell:
        """A cell on an input."""
        rng = self.rng
        if name.startswith("reading."):
            return places.only(rng.choice(("one", "two")))
        if name.startswith("answer."):
            return OneOf(frozenset(rng.sample(small.OUTCOMES, rng.choice((1, 2)))))
        fact = self.inputs[name]
        if fact.type == "number":
            end = Fraction(rng.randint(0, 4))
            return Within(end, rng.random() < 0.5) if rng.random() < 0.5 else Within(None, False, end, True)
        if fact.type == "yes_no":
            return places.only(rng.random() < 0.5)
        return rng.choice((OneOf, OneOf, NoneOf))(frozenset(rng.sample("abc", rng.choice((1, 1, 2)))))

    def figure(self, number: int) -> Calculation:
        """A figure of some kind of thing: of boxes, by reading, or over a list."""
        rng = self.rng
        kind = rng.choice(KINDS)
        name = f"{PREFIX[kind]}.f{number}"
        boxes = {each: WhereBox((self.box(self.near(kind), 2),)) for each in ("one", "two", "three")}
        figure = replace(places.calculation(name, rng.choice((boxes["one"], ByReading("r", boxes)))), entity=kind)
        if LISTS[kind] and rng.random() < 0.5:
            over = rng.choice(sorted(LISTS[kind]))
            are = self.box(self.near(LISTS[kind][over].kind), 1)
            figure = replace(figure, expression=Over("any", f"{PREFIX[kind]}.{over}", ({},), (are,), None))
        self.inputs[name] = replace(small.fact("", "yes_no"), id=name, entity=kind)
        return figure

    def table(self, question: str, kind: Kind, further: Sequence[str]) -> Table:
        """A table of a few rules, some of them exceptions to the one before."""
        figures = [name for name in self.near(kind) if name not in self.facts]
        names = [*self.rng.sample(self.near(kind), 3), *figures[:2], *further]
        rules = [
            small.rule(
                f"{question}#{i}",
                [self.box(names, 3)],
                self.rng.choice(small.OUTCOMES),
                (),
                (f"{question}#{i - 1}",) if i and self.rng.random() < 0.5 else (),
            )
            for i in range(self.rng.randint(2, 4))
        ]
        return small.table(question, rules, self.rng.choice((*small.OUTCOMES, None)))


def all_kinds(rng: random.Random) -> AllKinds:
    """A rulebook whose tables are asked of things of random kinds."""
    maker = _Maker(rng)
    figures = [maker.figure(i) for i in range(rng.randint(0, 4))]
    upper = rng.choice(("contact", "contact", *KINDS))
    lower = rng.choice((upper, *ONE[upper]))
    boxes: list[Box] = []
    impossible: list[Impossible] = []
    for _ in range(rng.choice((0, 1, 2, 3))):
        kind = rng.choice(KINDS)
        boxes.append(maker.box(maker.near(kind), 2))
        impossible.append(Impossible(kind, boxes[-1], "so", small.AT))
    tables = [
        maker.table("upper", upper, rng.choice(([], ["reading.r"], ["answer.lower"]))),
        maker.table("lower", lower, []),
    ]
    book: Book = places.book(maker.facts, figures, questions={"upper": upper, "lower": lower})
    book = replace(book, facts=maker.facts, impossible=tuple(impossible))
    boxes += [box for table in tables for rule in table.rules for box in rule.where]
    boxes += [fact.applies_when for fact in maker.facts.values() if fact.applies_when is not None]
    matter = {name for box in boxes for name in box if name in maker.facts} | set(rng.sample(sorted(maker.facts), 4))
    code = Code(book, places.stands(places.law(book, tables)), None, {}, None, {})
    return AllKinds(code, {name: maker.facts[name] for name in sorted(matter)})
