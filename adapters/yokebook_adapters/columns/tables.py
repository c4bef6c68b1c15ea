"""Tables in SQL: whether each rule fires, which stand, and the word, each only where it is sure."""

from __future__ import annotations

from dataclasses import dataclass

from yokebook.law import Law, ReadyTable
from yokebook.model import Question
from yokebook_adapters.columns.inputs import Inputs, World
from yokebook_adapters.columns.logic import (
    Sql,
    both,
    case,
    either,
    maybe,
    missing,
    negated,
    null,
    surely,
    text,
)


@dataclass(frozen=True)
class Standing:
    """The rules of a table in one world, exceptions first: whether each stands."""

    ready: ReadyTable
    stands: tuple[Sql, ...]

    @property
    def open(self) -> Sql:
        """Whether it is open for some rule if it stands; never NULL."""
        return either(missing(stands) for stands in self.stands)


class Tables:
    """The tables of the law in force over some inputs."""

    def __init__(self, inputs: Inputs) -> None:
        self.inputs = inputs
        inputs.answer = self.word
        #: lower tables that were asked for, as (law, question)
        self.lower: dict[tuple[str, str], Law] = {}
        self._fires: dict[tuple[object, ...], tuple[Sql, ...]] = {}

    def question(self, question: str) -> Question:
        return self.inputs.book.questions[question]

    def fires(self, law: Law, question: str, world: World) -> tuple[Sql, ...]:
        """Whether each rule of a table fires, exceptions first; NULL where that is not known."""
        ready = law.ready(question)
        readings = self.readings(law, question)
        key = (law.kind, question, tuple((reading, world.get(reading)) for reading in sorted(readings)))
        if key not in self._fires:
            at = self.question(question).per
            self._fires[key] = tuple(
                self.inputs.steps.name(
                    f"~{rule.id}",
                    both(
                        [
                            self.inputs.in_any(law, rule.where, world, at),
                            negated(self.inputs.in_any(law, rule.but_not, world, at)),
                        ]
                    ),
                )
                for rule in ready.rules
            )
        return self._fires[key]

    def readings(self, law: Law, question: str) -> list[str]:
        """The readings that a table's answer may turn on."""
        names = self.inputs.of_table(law.ready(question))
        reached = {each for name in names for each in self.inputs.reached(law, name)}
        return sorted(name.removeprefix("reading.") for name in reached if name.startswith("reading."))

    def standing(self, law: Law, question: str, world: World) -> Standing:
        """Which rules stand in one world; NULL for one of which that is open."""
        ready = law.ready(question)
        fires = self.fires(law, question, world)
        stands = [
            self.inputs.steps.name(
                f"~{rule.id} stands",
                both([fires[i], negated(either(fires[j] for j in sorted(ready.beaten_by[i])))]),
            )
            for i, rule in enumerate(ready.rules)
        ]
        return Standing(ready, tuple(stands))

    def word(self, law: Law, question: str, world: World) -> Sql:
        """The word that every completion gives, as text: whichever further rules stand beside those that surely do.
        NULL where more than one is possible, in a conflict, and where the table must not be silent and is."""
        self.lower.setdefault((law.kind, question), law)
        ready = law.ready(question)
        fires = self.fires(law, question, world)
        possible: dict[str, list[Sql]] = {}
        for i, rule in enumerate(ready.rules):
            beaten = either(surely(fires[j]) for j in sorted(ready.beaten_by[i]))
            possible.setdefault(rule.then, []).append(both([maybe(fires[i]), negated(beaten)]))
        any_fires = either(fires)
        none_fires = ready.table.none_fires.then
        said = {word: either(rules) for word, rules in possible.items()}
        # where no rule may fire the answer is that of none; where one surely does, the only word that may stand
        arms: list[tuple[Sql, Sql]] = []
        if none_fires is None or none_fires not in said:
            arms.append((missing(any_fires), null()))
            arms.append((negated(any_fires), null() if none_fires is None else text(none_fires)))
            arms += [(_alone(word, said), text(word)) for word in said]
        else:
            others = both(negated(rules) for word, rules in said.items() if word != none_fires)
            arms.append((others, text(none_fires)))  # some rule says it, or none fires and the table does
            arms.append((missing(any_fires), null()))
            arms += [(_alone(word, said), text(word)) for word in said if word != none_fires]
        return self.inputs.steps.name(f"~answer.{question}", case(arms, null()))


def _alone(word: str, said: dict[str, Sql]) -> Sql:
    return both(negated(rules) for other, rules in said.items() if other != word)


def outcome(standing: Standing) -> Sql:
    """The word of the rules that stand, where none is open: NULL in a conflict or in a forbidden silence."""
    words: dict[str, list[Sql]] = {}
    for rule, stands in zip(standing.ready.rules, standing.stands, strict=True):
        words.setdefault(rule.then, []).append(surely(stands))
    said = {word: either(rules) for word, rules in words.items()}
    none_fires = standing.ready.table.none_fires.then
    arms: list[tuple[Sql, Sql]] = [(standing.open, null())]
    arms += [(both([said[word], _alone(word, said)]), text(word)) for word in said]
    silent = negated(either(said.values()))
    arms.append((silent, null() if none_fires is None else text(none_fires)))
    return case(arms, null())


