"""Invented tables to measure with, from a seed: partitions with exceptions over facts of every type, chains of tables,
and the same tables as a hand-written chain of ifs."""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from ruling import places, small
from yokebook.code import Code
from yokebook.model import Box, Cell, Fact, OneOf, Question, Rule, Table, Value, Within

WORDS = ("not required", "required", "conditional")
LETTERS = "abcdef"

#: What is hand-written returns the rule's id alone.
Chain = Callable[[Mapping[str, Any]], str]


@dataclass(frozen=True)
class Invented:
    """A rulebook of invented tables, with the top question, and its facts with the values that records take."""

    code: Code
    question: str
    facts: Mapping[str, Fact]

    def record(self, rng: random.Random, missing: int = 0) -> dict[str, Any]:
        """A record of every fact, so many of them left out."""
        found = {name: _value(rng, fact) for name, fact in self.facts.items()}
        for name in rng.sample(sorted(found), missing):
            del found[name]
        return found


def _value(rng: random.Random, fact: Fact) -> object:
    if fact.type == "choice":
        return rng.choice(list(fact.values))
    if fact.type == "yes_no":
        return rng.random() < 0.5
    if fact.whole:
        return rng.randint(0, 20)
    return rng.choice((rng.randint(0, 400) / 4, float(10 * rng.randint(0, 10))))


def facts_of(prefix: str, choices: int, yes_no: int, numbers: int, whole: int) -> dict[str, Fact]:
    """Facts of a contact device: choices of 4 to 6 words, yes or no, numbers from 0 to 100, whole ones to 20."""
    found: list[Fact] = []
    for i in range(choices):
        values = {letter: letter for letter in LETTERS[: 4 + i % 3]}
        found.append(replace(small.fact(f"{prefix}choice{i}", "choice"), values=values))
    found += [small.fact(f"{prefix}flag{i}", "yes_no") for i in range(yes_no)]
    found += [replace(small.fact(f"{prefix}number{i}", "number"), high=Fraction(100)) for i in range(numbers)]
    found += [replace(small.fact(f"{prefix}count{i}", "number", True), high=Fraction(20)) for i in range(whole)]
    return {fact.id: fact for fact in found}


Cells = dict[str, list[Value] | tuple[Fraction, Fraction]]


def _leaves(rng: random.Random, facts: Mapping[str, Fact], count: int) -> list[Cells]:
    """The whole space cut into so many boxes."""
    whole: Cells = {}
    for name, fact in facts.items():
        if fact.type == "number":
            whole[name] = (Fraction(0), (fact.high or Fraction(0)) + 1)
        else:
            whole[name] = list(fact.values) if fact.type == "choice" else [True, False]
    found = [whole]
    while len(found) < count:
        box = found.pop(rng.randrange(len(found)))
        name = rng.choice(sorted(box))
        cell = box[name]
        if isinstance(cell, tuple):
            low, high = cell
            steps = [n for n in range(int(low) + 1, int(high)) if facts[name].whole or n % 10 == 0]
            if not steps:
                found.append(box)
                continue
            at = Fraction(rng.choice(steps))
            found += [{**box, name: (low, at)}, {**box, name: (at, high)}]
        elif len(cell) > 1:
            at_value = rng.randrange(1, len(cell))
            found += [{**box, name: cell[:at_value]}, {**box, name: cell[at_value:]}]
        else:
            found.append(box)
    return found


def _box(cells: Cells, facts: Mapping[str, Fact]) -> Box:
    box: dict[str, Cell] = {}
    for name, cell in cells.items():
        if isinstance(cell, tuple):
            low, high = cell
            last = high == (facts[name].high or Fraction(0)) + 1
            if low > 0 or not last:
                box[name] = Within(low if low > 0 else None, False, None if last else high, not last)
        elif len(cell) < (len(facts[name].values) or 2):
            box[name] = OneOf(frozenset(cell))
    return box


def table(rng: random.Random, question: str, facts: Mapping[str, Fact], rules: int, words: Sequence[str]) -> Table:
    """A partition of which a fifth more are exceptions to other rules."""
    exceptions = rules // 6
    base = _leaves(rng, facts, rules - exceptions)
    found = [
        small.rule(f"{question}#row{i}", [_box(cells, facts)], rng.choice(words)) for i, cells in enumerate(base)
    ]
    for i in range(exceptions):
        of = rng.randrange(len(base))
        box = dict(_box(base[of], facts))
        name = rng.choice(sorted(n for n in facts if facts[n].type == "choice"))
        box.setdefault(name, OneOf(frozenset({"a"})))
        other = rng.choice([word for word in words if word != found[of].then])
        found.append(small.rule(f"{question}#exception{i}", [box], other, exception_to=(found[of].id,)))
    rng.shuffle(found)
    return small.table(question, found, words[0])


def _code(tables: Sequence[Table], facts: Mapping[str, Fact], words: Sequence[str]) -> Code:
    questions = {
        t.question: Question(t.question, "R00", "", "contact", {w: w for w in words}, frozenset(), small.AT)
        for t in tables
    }
    book = replace(small.book(), facts=dict(facts), questions=questions, readings={})
    return Code(book, places.stands(places.law(book, tables)), None, {}, None, {})


def one_table(rules: int, choices: int, yes_no: int, numbers: int, whole: int, seed: int = 1) -> Invented:
    """One table of so many rules over so many facts."""
    facts = facts_of("", choices, yes_no, numbers, whole)
    rng = random.Random(seed)
    while True:
        top = table(rng, "top", facts, rules, WORDS)
        if {name for rule in top.rules for box in rule.where for name in box} == set(facts):
            break  # every fact is looked at
    return Invented(_code([top], facts, WORDS), "top", facts)


def chain(layers: int, rules: int = 12, seed: int = 1) -> Invented:
    """So many tables, each with two facts of its own, all but the last with the next one's answer as well."""
    rng = random.Random(seed)
    tables: list[Table] = []
    all_facts: dict[str, Fact] = {}
    for layer in range(layers):
        facts = facts_of(f"layer{layer}_", 1, 0, 1, 0)
        all_facts |= facts
        made = table(rng, f"layer{layer}", facts, rules, WORDS)
        if layer < layers - 1:
            made = replace(made, rules=tuple(_asking(rng, rule, layer) for rule in made.rules))
        tables.append(made)
    return Invented(_code(tables, all_facts, WORDS), "layer0", all_facts)


def _asking(rng: random.Random, rule: Rule, layer: int) -> Rule:
    if rng.random() < 0.5:
        return rule
    answer = OneOf(frozenset(rng.sample(WORDS, 2)))
    return replace(rule, where=tuple({**box, f"answer.layer{layer + 1}": answer} for box in rule.where))


# ---- by hand ---------------------------------------------------------------------------------------------------------


def by_hand(invented: Invented) -> Chain:
    """The tables as somebody would write them: ifs one after another, exceptions first; a full record gives the id of
    the rule that decides the top question, or `none`."""
    law = invented.code.in_force["small"].candidates[0].law
    assert law is not None
    lines: list[str] = []
    for question in reversed(list(law.resolved.tables)):
        ready = law.ready(question)
        lines.append(f"def {question}(r):")
        for rule in ready.rules:
            result = rule.id if question == invented.question else rule.then
            lines += [f"    if {_test(box)}:\n        return {result!r}" for box in rule.where]
        nothing = "none" if question == invented.question else ready.table.none_fires.then
        lines.append(f"    return {nothing!r}")
    names: dict[str, Any] = {}
    exec(compile("\n".join(lines), "<by hand>", "exec"), names)
    found: Chain = names[invented.question]
    return found


def _test(box: Box) -> str:
    parts = []
    for name, cell in box.items():
        of = f"{name.removeprefix('answer.')}(r)" if name.startswith("answer.") else f"r[{name!r}]"
        if isinstance(cell, Within):
            low = f"{_number(cell.low)} <= " if cell.low is not None else ""
            high = f" < {_number(cell.high)}" if cell.high is not None else ""
            parts.append(f"{low}{of}{high}")
            continue
        values = sorted(cell.values, key=str)
        if len(values) == 1:
            parts.append(of if values == [True] else f"not {of}" if values == [False] else f"{of} == {values[0]!r}")
        else:
            parts.append(f"{of} in {tuple(values)!r}")
    return " and ".join(parts) or "True"


def _number(number: object) -> str:
    assert isinstance(number, Fraction)
    return str(int(number)) if number.denominator == 1 else str(float(number))
