"""What must hold of any rulebook: each function raises AssertionError where the engine and the naive evaluator, which
knows raw values and no elements, differ."""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import product

from proof.books import CLASSES, PUBLISHED, Made
from proof.holds_of_tables import say_the_same
from proof.tables import in_region, points_in
from proof.truth import Record
from ruling import small
from yokebook.exploring import Exploration, explore
from yokebook.law import Law
from yokebook.model import Box, LookUp, Rule, Table, Value
from yokebook.proof.cover import Region
from yokebook.proof.deciding_rows import IMPOSSIBLE, Says
from yokebook.proof.differences import Joint, differences
from yokebook.proof.elements import Side, Space, space_of
from yokebook.ruling import Ruling
from yokebook.session import Session
from yokebook.values import NotApplicable, Range, Some, Span

#: Most points of a space that one look takes.
MOST_POINTS = 120


def space(made: Made) -> Space:
    """The table at hand over its elements."""
    return space_of([Side(made.law, "upper")], made.book)


def grid(made: Made, name: str) -> list[Value | None]:
    """Values of an input on, between and beyond all ends of cells; None where it may not apply."""
    if name == "reading.r":
        chosen = made.law.resolved.chosen
        return [chosen[0][1]] if chosen else list(made.book.readings["r"].alternatives)
    if name == "answer.lower":
        lower = made.law.resolved.tables["lower"]
        words = {rule.then for rule in lower.rules} | {lower.none_fires.then}
        return [word for word in small.OUTCOMES if word in words]
    if name in made.book.calculations:
        expression = made.book.calculations[name].expression
        if not isinstance(expression, LookUp):
            return [True, False]
        no_use = expression.otherwise is None and len(expression.table) < len(made.grid[expression.by])
        return [*CLASSES, *([None] if no_use else [])]
    may_fail = name == "load.draw" or made.book.facts[name].applies_when is not None
    return [*made.grid[name], *([None] if may_fail else [])]


def in_span(span: Span, value: Value | None) -> bool:
    """Whether an element holds a value."""
    if isinstance(span, NotApplicable) or value is None:
        return isinstance(span, NotApplicable) and value is None
    if isinstance(span, Some):
        return any(value == each for each in span.values)
    assert isinstance(span, Range) and isinstance(value, Fraction)
    above = span.low is None or value > span.low or (value == span.low and not span.low_open)
    return above and (span.high is None or value < span.high or (value == span.high and not span.high_open))


def said(made: Made, names: Iterable[str], record: Record) -> Says:
    """What the table says of input values by the definition, what cannot occur included as far as these inputs show."""
    known = set(names)
    for name in known & set(made.book.facts):
        if name.startswith("contact.") and made.applies(name, record) != (name in record):
            return IMPOSSIBLE
    for combination in made.book.impossible:
        holds = all(made.truth.in_cell(cell, record.get(name)) for name, cell in combination.where.items())
        if set(combination.where) <= known and holds:
            return IMPOSSIBLE
    return made.truth.ruling("upper", record)


def elements_hold_every_value_once(made: Made) -> None:
    """Each value that an input can have is in one element and no other, and no element is empty."""
    its = space(made)
    for name, spans in zip(its.names, its.elements, strict=True):
        values = grid(made, name)
        for value in values:
            assert sum(in_span(span, value) for span in spans) == 1, (name, value)
        for span in spans:
            assert any(in_span(span, value) for value in values), (name, span)


def elements_say_what_values_say(made: Made, rng: random.Random) -> None:
    """At a point of the space the rows say what the definition says of raw values in its elements."""
    its = space(made)
    rows = its.rows[0]
    for point in _some_points(its.widths, rng):
        record: dict[str, Value] = {}
        for name, spans, element in zip(its.names, its.elements, point, strict=True):
            value = rng.choice([v for v in grid(made, name) if in_span(spans[element], v)])
            if value is not None:
                record[name] = value
        assert rows.at(point) == said(made, its.names, record), record


def _some_points(widths: Sequence[int], rng: random.Random) -> Iterator[tuple[int, ...]]:
    """Every point, or many where there are too many."""
    count = 1
    for width in widths:
        count *= width
    if count <= MOST_POINTS:
        yield from product(*(range(width) for width in widths))
    else:
        for _ in range(MOST_POINTS):
            yield tuple(rng.randrange(width) for width in widths)


def ties_leave_out_nothing_that_can_be(made: Made, rng: random.Random) -> None:
    """With figures tied to what they are computed from and answers to their tables, every record that can occur has its
    point, and there the rows say what the definition says of it."""
    its = space_of([Side(made.law, "upper")], made.book, tied=True)
    for _ in range(8):
        record = made.with_figures({**made.record(rng), "reading.r": rng.choice(grid(made, "reading.r")) or ""})
        if "answer.lower" in its.names:
            status, answer = made.truth.ruling("lower", record)
            if status != "ruled":
                continue  # no word to tie it by
            record["answer.lower"] = answer
        if made.can_occur(record):
            point: list[int] = []
            for name, spans in zip(its.names, its.elements, strict=True):
                (element,) = (e for e, span in enumerate(spans) if in_span(span, record.get(name)))
                point.append(element)
            assert its.rows[0].at(point) == made.truth.ruling("upper", record), record


def empty_cells_are_all(made: Made) -> None:
    """The cells told to be empty are those that no value fits which their input can have."""
    its = space(made)
    numbers = {rule.id: n for n, rule in enumerate(made.law.ready("upper").rules)}
    told = {(each.rule, each.name, id(each.box)) for each in its.empty_cells}
    due = {
        (numbers[rule.id], name, id(box))
        for rule in made.upper.rules
        for box in (*rule.where, *rule.but_not)
        for name, cell in box.items()
        if not any(made.truth.in_cell(cell, value) for value in grid(made, name))
    }
    assert told == due


# ---- rulings ---------------------------------------------------------------------------------------------------------


def alternatives(made: Made, *, published: bool = True) -> list[str]:
    """The alternatives of the reading under which a record is ruled."""
    chosen = made.law.resolved.chosen
    if chosen:
        return [chosen[0][1]]
    return list(PUBLISHED if published else made.book.readings["r"].alternatives)


def word(status: str, its_word: str) -> str:
    """What stands in a list of outcomes."""
    return its_word if status == "ruled" else status


def due_words(made: Made, record: Record) -> set[str]:
    """The outcomes of a full record under the published readings."""
    return {word(*made.ruling({**record, "reading.r": one})) for one in alternatives(made)}


def ruling_is_the_definition(made: Made, rng: random.Random) -> None:
    """A full record, written as people write it and ruled through the front door, gets what the definition gives it."""
    record = made.record(rng)
    ruling: Ruling = made.code.rule("upper", made.written(rng, record))
    if not made.can_occur(record):
        assert ruling.status == "impossible"
        return
    due = due_words(made, record)
    assert set(ruling.possible) == due
    if len(due) == 1:
        assert ruling.status in ("settled", "conflict", "silent")
        assert {ruling.outcome or ruling.status} == due
    else:
        assert ruling.status == "readings differ"


def explored(made: Made, record: Record, hidden: Sequence[str] = ()) -> Exploration:
    """All outcomes over what is not given of a record."""
    session = Session(made.graph(record, hidden), made.book, made.in_force)
    return explore(session, "upper", session.graph.things["contact"][0], "small", {})


def outcomes(found: Exploration) -> set[str]:
    """Their words."""
    assert found.decided
    return {word(leaf.outcome.status, leaf.outcome.word) for leaf in found.leaves}


def completions(made: Made, record: Record, hidden: Sequence[str]) -> list[dict[str, Value]]:
    """Every full record that can occur in which the facts not given have any value, or do not apply where what they
    depend on says so. What is given applies."""
    known = {name: value for name, value in record.items() if name not in hidden}
    found: list[dict[str, Value]] = []
    for values in product(*(made.grid[name] for name in hidden)):
        tried = {**known, **dict(zip(hidden, values, strict=True))}
        full = {name: value for name, value in tried.items() if made.applies(name, tried)}
        if set(known) <= set(full) and made.can_occur(full):
            found.append(full)
    return found


def missing(made: Made, record: Record, rng: random.Random, most: int) -> list[str]:
    """A few facts of a record that nobody gives; a fact that may not apply only where the record has it."""
    names = [name for name in made.grid if name in record]
    return rng.sample(names, rng.randint(0, min(most, len(names))))


def outcomes_are_those_of_completions(made: Made, rng: random.Random, most: int = 2) -> int:
    """What is still possible is what some completion gives; one fact fewer given makes nothing impossible that was
    possible. Gives back how many completions were ruled naively."""
    record = made.record(rng)
    if not made.can_occur(record):
        return 0
    hidden = missing(made, record, rng, most)
    found = outcomes(explored(made, record, hidden))
    every = completions(made, record, _with_dependents(made, hidden, record))
    assert found == set[str]().union(*(due_words(made, full) for full in every))
    for name in hidden:
        assert outcomes(explored(made, record, [other for other in hidden if other != name])) <= found
    return len(every)


def _with_dependents(made: Made, hidden: Sequence[str], record: Record) -> list[str]:
    """The facts not given, and those that do not apply in the record but may once what they depend on is not known."""
    also = [
        name
        for name in made.grid
        if name not in record
        and name.startswith("contact.")
        and set(made.book.facts[name].applies_when or ()) & set(hidden)
    ]
    return [*hidden, *also]


# ---- order -----------------------------------------------------------------------------------------------------------


def order_is_nothing(made: Made, rng: random.Random) -> None:
    """Rules, boxes and cells written in another order: no difference, and the same findings."""
    other = Law(replace(made.law.resolved, tables={"upper": shuffled(rng, made.upper)}), made.book)
    both = space_of([Side(made.law, "upper"), Side(other, "upper")], made.book)
    assert differences(both) == []
    say_the_same(*both.rows)
    said_of = [{rule.id: firing_points(rows.firing[n]) for n, rule in enumerate(rows.rules)} for rows in both.rows]
    assert said_of[0] == said_of[1]


def firing_points(regions: Iterable[Region]) -> frozenset[tuple[int, ...]]:
    """The points of some regions."""
    return frozenset(point for region in regions for point in points_in(region))


def shuffled(rng: random.Random, table: Table) -> Table:
    """The same table written in another order."""

    def boxes(some: Sequence[Box]) -> tuple[Box, ...]:
        mixed = rng.sample(list(some), len(some))
        return tuple({name: box[name] for name in rng.sample(list(box), len(box))} for box in mixed)

    def links(rule: Rule) -> object:
        return rule.exception_to if rule.exception_to == "all" else tuple(reversed(rule.exception_to))

    rules = [
        replace(rule, where=boxes(rule.where), but_not=boxes(rule.but_not), exception_to=links(rule))  # type: ignore[arg-type]
        for rule in table.rules
    ]
    return replace(table, rules=tuple(rng.sample(rules, len(rules))))


# ---- two laws --------------------------------------------------------------------------------------------------------


def two_laws_over_one_space(made: Made, other: Made, rng: random.Random) -> None:
    """Cut together, each table still says what its own law says of raw values, and they differ just where those do."""
    both = space_of([Side(made.law, "upper"), Side(other.law, "upper")], made.book)
    values = [list(dict.fromkeys((*grid(made, name), *grid(other, name)))) for name in both.names]
    for spans, its_values in zip(both.elements, values, strict=True):
        for value in its_values:
            assert sum(in_span(span, value) for span in spans) == 1, value
    was_rows, now_rows = both.rows
    pairs = list(Joint(was_rows, now_rows).pairs())
    for point in _some_points(both.widths, rng):
        record: dict[str, Value] = {}
        for name, its_values, spans, element in zip(both.names, values, both.elements, point, strict=True):
            value = rng.choice([v for v in its_values if in_span(spans[element], v)])
            if value is not None:
                record[name] = value
        was, now = said(made, both.names, record), said(other, both.names, record)
        told = {(pair.was, pair.now) for pair in pairs if in_region(point, pair.region)}
        assert (was_rows.at(point), now_rows.at(point)) == (was, now), record
        assert told == ({(was, now)} if was != now else set())
