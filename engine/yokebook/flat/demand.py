"""What a question looks at: of the thing it is asked of, of what that has one of, and of the items of its lists.

A node stands for one way to a thing, such as the controls of a contact device. It names the facts that are looked at
there, and the ways on from it. Everything is taken in that may be looked at under any entry that may govern, so that
two things with equal views are ruled alike.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from yokebook.entities import KIND_OF_PREFIX, LISTS, ONE, PREFIX, Kind
from yokebook.flat.telling import Telling
from yokebook.law import InForce, Law
from yokebook.model import (
    Book,
    Box,
    ByReading,
    Expression,
    LookUp,
    Nearest,
    Of,
    OverList,
    WhereBox,
    boxes_on_items,
    taken_of_items,
    taken_of_itself,
)
from yokebook.session import answer_of


class _Look(NamedTuple):
    """Something that is looked at of a thing: a name, a box, an expression, or one of its lists with what is looked at
    of the items."""

    law_kind: str
    name: str = ""
    exact: bool = False  # of a name: whether its very value counts
    part: int = 0  # of a box or expression: its number
    over: str = ""  # of a list, as in `over`
    items: frozenset[_Look] = frozenset()


@dataclass(eq=False)
class Node:
    """One way to a thing: the facts, and whatever else may be stated, looked at of it, the references and lists gone on
    through, and figures and answers of it that are taken by themselves."""

    kind: Kind
    facts: tuple[str, ...] = ()
    refs: tuple[tuple[str, Node], ...] = ()
    lists: tuple[tuple[str, Node], ...] = ()
    figures: tuple[Figure, ...] = ()

    def all(self) -> Iterator[Node]:
        """This node and all after it, each once."""
        seen: dict[int, Node] = {}
        waiting: list[Node] = [self]
        while waiting:
            node = waiting.pop()
            if id(node) not in seen:
                seen[id(node)] = node
                waiting += (child for _, child in (*node.refs, *node.lists))
                waiting += (figure.behind for figure in node.figures)
        return iter(seen.values())


@dataclass(frozen=True)
class Figure:
    """A figure or answer taken by itself: under which kind of document, its name, and what is looked at for it."""

    law_kind: str
    name: str
    behind: Node


@dataclass
class _Open:
    """What is found so far of one node."""

    facts: dict[str, None] = field(default_factory=dict)
    refs: dict[str, set[_Look]] = field(default_factory=dict)
    lists: dict[str, set[_Look]] = field(default_factory=dict)
    figures: dict[tuple[str, str], frozenset[_Look]] = field(default_factory=dict)
    done: set[_Look] = field(default_factory=set)
    waiting: list[_Look] = field(default_factory=list)

    def look(self, look: _Look) -> None:
        if look not in self.done:
            self.done.add(look)
            self.waiting.append(look)


class Demand:
    """What is looked at under the law of a day for one kind of document.

    With `occurring` it is also taken in, at each thing, whether it can be as it is: declared combinations, facts that
    may not apply, and the calculations `stated` of some thing with what they are computed from. With `by_parts` figures
    and answers are nodes of their own, so that one that is settled can stand for all that is behind it.
    """

    def __init__(
        self,
        book: Book,
        in_force: Mapping[str, InForce],
        kind: str,
        stated: frozenset[str] = frozenset(),
        *,
        occurring: bool = False,
        by_parts: bool = False,
    ) -> None:
        self.book = book
        self.kind = kind
        self.laws: dict[str, list[Law]] = {
            name: [c.law for c in line.candidates if c.law is not None] for name, line in in_force.items()
        }
        self.stated = stated
        self.occurring = occurring
        self.by_parts = by_parts
        #: by full id of a fact or stated answer, what tells its values apart
        self.telling: dict[str, Telling] = {}
        #: the facts and calculations that are looked at of anything
        self.looked_at: set[str] = set()
        self._parts: list[Box | Expression] = []
        self._numbers: dict[int, int] = {}
        self._nodes: dict[tuple[Kind, frozenset[_Look]], Node] = {}

    def question(self, question: str) -> Node:
        """What a question looks at, from the thing it is asked of."""
        return self.questions([question])

    def questions(self, questions: Sequence[str]) -> Node:
        """What questions asked of things of one kind look at together."""
        looks = frozenset(_Look(self.kind, f"answer.{question}") for question in questions)
        return self._node(self.book.questions[questions[0]].per, looks)

    def inputs(self, question: str) -> Node:
        """What a question looks at, the inputs of its own table as parts."""
        asked = self.question(question)
        return next((figure.behind for figure in asked.figures), asked)

    def input(self, kind: Kind, name: str, law_kind: str) -> Node:
        """What is looked at for an input of a table of this kind of document that is asked of things of a kind."""
        return self._node(kind, frozenset({_Look(law_kind, name)}))

    def conditions(self, kind: Kind, boxes: Iterable[Box]) -> Node:
        """What is looked at to see whether these boxes hold for a thing of this kind."""
        return self._node(kind, frozenset(_Look(self.kind, part=self._number(box)) for box in boxes))

    def stating(self, kind: Kind) -> Node:
        """What is looked at to see whether what a thing of this kind states agrees with the rest, in every document."""
        names = [name for name in self.stated if self._owner(name) == kind]
        return self._node(kind, frozenset(_Look(law_kind, name) for law_kind in self.laws for name in names))

    def _owner(self, name: str) -> Kind:
        if name in self.book.calculations:
            return self.book.calculations[name].entity
        return answer_of(self.book, name.removeprefix("answer."), self.kind)[1].per

    def thing(self, kind: Kind) -> Node:
        """What is looked at to see whether a thing of this kind can be."""
        return self._node(kind, frozenset({_there(kind)}))

    # ---- nodes ----------------------------------------------------------------------------------------------------

    def _node(self, kind: Kind, looks: frozenset[_Look]) -> Node:
        key = (kind, looks)
        if key not in self._nodes:
            node = self._nodes[key] = Node(kind)  # kept before it is filled: the way may come back to it
            opened = _Open()
            for look in sorted(looks, key=repr):
                opened.look(look)
            filled = self._closed(kind, opened)
            node.facts, node.refs, node.lists = filled.facts, filled.refs, filled.lists
            node.figures = filled.figures
        return self._nodes[key]

    def _closed(self, kind: Kind, opened: _Open) -> Node:
        self._expand(kind, opened)
        refs = [
            (step, self._node(_kind_after(kind, step), frozenset(looks))) for step, looks in sorted(opened.refs.items())
        ]
        lists = [
            (name, self._node(LISTS[kind][name].kind, frozenset(looks))) for name, looks in sorted(opened.lists.items())
        ]
        figures = [
            Figure(law_kind, name, self._node(kind, looks))
            for (law_kind, name), looks in sorted(opened.figures.items(), key=lambda item: item[0])
        ]
        return Node(kind, tuple(sorted(opened.facts)), tuple(refs), tuple(lists), tuple(figures))

    def _expand(self, kind: Kind, opened: _Open) -> None:
        """Follows all that is looked at of one thing, and whether it can be as it is where something may be assumed of
        it or it is gone to for its own sake."""
        self._follow_all(kind, opened)
        if self.occurring and (opened.facts or _there(kind) in opened.done):
            self._can_be(kind, opened)
            self._follow_all(kind, opened)

    def _follow_all(self, kind: Kind, opened: _Open) -> None:
        while opened.waiting:
            self._follow(kind, opened, opened.waiting.pop())

    def _can_be(self, kind: Kind, opened: _Open) -> None:
        boxes = [combination.where for combination in self.book.impossible if combination.entity == kind]
        boxes += [f.applies_when for f in self.book.facts.values() if f.entity == kind and f.applies_when is not None]
        for law_kind in sorted({self.kind, *(look.law_kind for look in opened.done)} - {""}):
            for box in boxes:
                opened.look(_Look(law_kind, part=self._number(box)))
        for law_kind in self.laws:  # what is stated is held against what every document makes of the rest
            for name in sorted(self.stated):
                if name in self.book.calculations and self.book.calculations[name].entity == kind:
                    opened.look(_Look(law_kind, name))

    def _number(self, part: Box | Expression) -> int:
        """A number for a box or expression; parts are kept, so that the id stays theirs."""
        if id(part) not in self._numbers:
            self._parts.append(part)
            self._numbers[id(part)] = len(self._parts)
        return self._numbers[id(part)]

    # ---- what is looked at ----------------------------------------------------------------------------------------

    def _follow(self, kind: Kind, opened: _Open, look: _Look) -> None:
        if look.over:
            self._list(kind, opened, look)
        elif look.part:
            part = self._parts[look.part - 1]
            if isinstance(part, Mapping):
                self._box(opened, look.law_kind, part)
            else:
                self._expression(kind, opened, look.law_kind, part)
        elif look.name.startswith("reading."):
            self._reading(opened, look.law_kind, look.name.removeprefix("reading."))
        elif look.name.startswith("answer."):
            self._answer(kind, opened, look)
        else:
            self._named(kind, opened, look)

    def _reading(self, opened: _Open, law_kind: str, reading: str) -> None:
        """Takes in where a layer chose a reading."""
        for law in self.laws.get(law_kind, ()):
            for chosen in law.chosen.get(reading, ()):
                if chosen.where is not None:
                    self._box(opened, law_kind, chosen.where)

    def _answer(self, kind: Kind, opened: _Open, look: _Look) -> None:
        law_kind, question = answer_of(self.book, look.name.removeprefix("answer."), look.law_kind)
        if question.per != kind:
            self._on_the_way(opened, kind, question.per, look)
            return
        looks: dict[_Look, None] = {}
        for law in self.laws.get(law_kind, ()):
            if law.answers(question.id):
                for rule in law.resolved.tables[question.id].rules:
                    for box in (*rule.where, *rule.but_not):
                        looks[_Look(law_kind, part=self._number(box))] = None
        self._behind(opened, look.law_kind, look.name, looks)
        stated = f"answer.{law_kind}.{question.id}"
        self.telling.setdefault(stated, Telling(exact=True))
        opened.facts[stated] = None

    def _named(self, kind: Kind, opened: _Open, look: _Look) -> None:
        name = look.name
        its_kind = KIND_OF_PREFIX[name.partition(".")[0]]
        if its_kind != kind:
            self._on_the_way(opened, kind, its_kind, look)
            return
        calculation = self.book.calculations.get(name)
        if calculation is not None:
            opened.facts[name] = None  # it may be stated
            self.looked_at.add(name)
            telling = self.telling.setdefault(name, Telling())
            telling.exact = telling.exact or look.exact
            self._behind(opened, look.law_kind, name, [_Look(look.law_kind, part=self._number(calculation.expression))])
            return
        fact = self.book.facts[name]
        opened.facts[name] = None
        self.looked_at.add(name)
        telling = self.telling.setdefault(name, Telling())
        telling.exact = telling.exact or look.exact
        if fact.applies_when is not None:
            opened.look(_Look(look.law_kind, part=self._number(fact.applies_when)))

    def _behind(self, opened: _Open, law_kind: str, name: str, looks: Iterable[_Look]) -> None:
        """Takes in what is behind a figure or answer: as a node of its own, or with the rest."""
        if self.by_parts and len(self.laws.get(law_kind, ())) == 1:
            opened.figures[law_kind, name] = frozenset(looks)
        else:
            for look in looks:
                opened.look(look)

    def _on_the_way(self, opened: _Open, kind: Kind, to: Kind, look: _Look) -> None:
        """Passes on what is looked at of a thing that this one has one of."""
        steps = ONE[kind].get(to)
        if steps is not None:  # else nothing of that kind can be had from here, so that it is never looked at
            opened.refs.setdefault(steps[0], set()).add(look)

    def _box(self, opened: _Open, law_kind: str, box: Box) -> None:
        for name, cell in box.items():
            opened.look(_Look(law_kind, name))
            if name in self.book.facts or name in self.book.calculations:
                for law in self.laws.get(law_kind, ()):
                    self.telling.setdefault(name, Telling()).cell(cell, law, name)

    def _expression(self, kind: Kind, opened: _Open, law_kind: str, expression: Expression) -> None:
        match expression:
            case Of(name):
                opened.look(_Look(law_kind, name, exact=True))
            case LookUp(by=name):
                opened.look(_Look(law_kind, name))
                self.telling.setdefault(name, Telling()).look_up(expression)
            case WhereBox(boxes):
                for box in boxes:
                    self._box(opened, law_kind, box)
            case ByReading(reading=reading):
                opened.look(_Look(law_kind, f"reading.{reading}"))
        for part in taken_of_itself(expression):
            self._expression(kind, opened, law_kind, part)
        if isinstance(expression, OverList):
            self._over(kind, opened, law_kind, expression)

    def _over(self, kind: Kind, opened: _Open, law_kind: str, expression: OverList) -> None:
        parts: Iterable[Box | Expression] = (*boxes_on_items(expression), *taken_of_items(expression))
        items = frozenset(_Look(law_kind, part=self._number(part)) for part in parts)
        if isinstance(expression, Nearest) and expression.on is not None:
            opened.look(_there(expression.on))
            items |= {_there(expression.on)}
        opened.look(_Look(law_kind, over=expression.over, items=items))

    def _list(self, kind: Kind, opened: _Open, look: _Look) -> None:
        prefix, _, name = look.over.partition(".")
        owner = KIND_OF_PREFIX[prefix]
        if owner != kind:
            self._on_the_way(opened, kind, owner, look)
        elif name:
            opened.lists.setdefault(name, set()).update(look.items)


def _there(kind: Kind) -> _Look:
    """That a thing of this kind is gone to for its own sake: for what it is, or to see whether it can be."""
    return _Look("", over=f"{PREFIX[kind]}.")


def _kind_after(kind: Kind, step: str) -> Kind:
    """The kind of thing that one reference of a thing leads to."""
    return next(to for to, steps in ONE[kind].items() if steps == (step,))
