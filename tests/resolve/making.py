"""Small rulebooks made by hand: one document with three editions, one table of three rules, one lower table."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import count
from typing import Literal

from yokebook.model import (
    Adopts,
    Alternative,
    Amendment,
    AmendmentsEntered,
    At,
    Book,
    Box,
    Calculation,
    Carried,
    Cell,
    Checked,
    Cite,
    Comparison,
    Document,
    Edition,
    Entry,
    Layer,
    NamedNumber,
    NoneFires,
    NotEntered,
    NumberValue,
    Of,
    OneOf,
    Op,
    OpName,
    Over,
    Place,
    Question,
    Reading,
    Rule,
    Table,
    Value,
    Window,
    Within,
)

SEEN = Checked("seen", "a test")
CITE = Cite("nfpa-70", "406.3(E)")
MARK = "marking.required"
_lines = count(1)


def at(line: int | None = None, file: str = "t.yaml") -> At:
    """A place in a file; without a line the next one, so that no two things share a place."""
    return At(file, next(_lines) if line is None else line, 3)


def one(*values: Value | NamedNumber) -> OneOf:
    return OneOf(frozenset(values))


def at_most(number: int | str) -> Within:
    return Within(high=NamedNumber(number) if isinstance(number, str) else Fraction(number))


def box(**cells: Cell) -> Box:
    """A box; `__` in a name stands for a dot."""
    return {name.replace("__", "."): cell for name, cell in cells.items()}


def rule(
    short: str,
    then: str = "required",
    where: Sequence[Box] = ({},),
    exception_to: Sequence[str] | Literal["all"] = (),
    *,
    table: str = MARK,
    but_not: Sequence[Box] = (),
    checked: Checked = SEEN,
    prevails_over: Sequence[str] = (),
    line: int | None = None,
) -> Rule:
    excepted: tuple[str, ...] | Literal["all"] = (
        "all" if exception_to == "all" else tuple(f"{table}#{each}" for each in exception_to)
    )
    over = tuple(f"{table}#{each}" for each in prevails_over)
    name = f"{table}#{short}"
    return Rule(name, tuple(where), tuple(but_not), then, excepted, over, f"says {short}", CITE, checked, at(line))


def none_fires(then: str | None = "not required") -> NoneFires:
    return NoneFires(then, "nothing asks for it", CITE, SEEN, at())


def table(*rules: Rule, question: str = MARK, then: str | None = "not required") -> Table:
    return Table(question, none_fires(then), rules, at())


def value(
    name: str, number: int, unit: str | None = "min", stricter: Literal["lower", "higher"] = "lower"
) -> NumberValue:
    return NumberValue(name, Fraction(number), unit, f"{number} {unit}", stricter, f"says {name}", CITE, SEEN, at())


def op(name: OpName, target: str, line: int | None = None, **more: object) -> Op:
    return replace(Op(name, target, at(line)), **more)  # type: ignore[arg-type]


def edition(
    name: str,
    follows: str | None = None,
    *,
    tables: Sequence[Table] = (),
    values: Sequence[NumberValue] = (),
    carried: Sequence[Carried] = (),
    changes: Sequence[Op] = (),
) -> Edition:
    return Edition(
        "nfpa-70",
        name,
        follows,
        tuple(tables),
        tuple(values),
        tuple(carried),
        tuple(changes),
        "read",
        at(1, f"{name}.yaml"),
    )


def carried(*rules: str, section: str | None = None, checked: Checked = SEEN, line: int | None = None) -> Carried:
    return Carried(rules, section, checked, at(line))


def amendment(name: str, *ops: Op, checked: Checked = SEEN) -> Amendment:
    return Amendment(name, f"says {name}", Cite("ordinance", name), checked, ops, at())


def layer(name: str, *amendments: Amendment, window: Window | None = None) -> Layer:
    return Layer(name, amendments, at(), window=window)


def entry(
    name: str,
    on_or_after: str | None = None,
    event: str | None = "permit application",
    *,
    adopts: str | Adopts | None = None,
    layers: Sequence[str] = (),
    follows: str | None = None,
    none_in_force: str | None = None,
    not_entered: str | None = None,
    choice: Mapping[str, str | NotEntered] | None = None,
    amendments: AmendmentsEntered | None = None,
) -> Entry:
    """An entry; `adopts` and the alternatives of a choice may be an edition of nfpa-70. `layers` are those of what is
    adopted or, of an entry that follows, its own."""
    taken = Adopts("nfpa-70", adopts, tuple(layers), "all entered") if isinstance(adopts, str) else adopts
    ways: dict[str, Adopts | NotEntered] | None = None
    if choice is not None:
        ways = {k: Adopts("nfpa-70", e, (), "some entered") if isinstance(e, str) else e for k, e in choice.items()}
    return Entry(
        name,
        event if on_or_after else None,
        on_or_after,
        taken,
        follows,
        none_in_force,
        not_entered,
        ways,
        None if choice is None else "window",
        None if choice is None else "Which edition was chosen?",
        "",
        "a test",
        at(),
        tuple(layers) if follows is not None else (),
        amendments,
    )


def place(
    name: str,
    *entries: Entry,
    layers: Sequence[Layer] = (),
    kind: str = "electrical",
    more: Mapping[str, Sequence[Entry]] | None = None,
) -> Place:
    lines = {kind: entries, **{k: tuple(v) for k, v in (more or {}).items()}}
    return Place(name, name.title(), None, "the counter", True, lines, {each.id: each for each in layers}, at())


QUESTIONS = (MARK, "acts", "half")
READING = Reading(
    "sensor",
    CITE,
    (),
    "Is a sensor a wall switch?",
    "automatic",
    "it goes off by itself",
    {
        "automatic": Alternative("automatic", "it is not", "published", "a body", "a bulletin"),
        "wall switch": Alternative("wall switch", "it is", "argued", "some", "common practice"),
    },
    at(),
)
AUTOMATIC = Calculation(
    "contact.automatic",
    "contact",
    "yes_no",
    "Something takes the power away by itself.",
    None,
    {},
    Over("any", "contact.controls", ({},), (box(answer__acts=one("automatic")),), None),
    None,
    SEEN,
    at(),
)
SLOW = replace(
    AUTOMATIC, id="control.slow", expression=Comparison(Of("control.delay"), "more_than", NamedNumber("delay"))
)

WHERE_AUTOMATIC = box(contact__automatic=one(True), receptacle__configuration=one("5-15R", "5-20R"))


def first_edition() -> Edition:
    """2014: mark what is automatic, not where it stands in for a lighting outlet; sensors act by a reading."""
    marking = table(
        rule("automatic", where=[WHERE_AUTOMATIC], line=1001),
        rule("built-in", where=[box(receptacle__built_in=one(True))], line=1002),
        rule("lighting", "not required", [box(contact__by_wall_switch=one(True))], "all", line=1003),
    )
    acts = table(
        rule("sensor", "automatic", [box(control__kind=one("sensor"), reading__sensor=one("automatic"))], table="acts"),
        rule("slow", "manual", [box(control__delay=at_most("delay"))], ["sensor"], table="acts"),
        question="acts",
        then="manual",
    )
    return edition("2014", tables=[marking, acts], values=[value("delay", 20)])


ALL_CARRIED = carried(f"{MARK}#*", "acts#*", "value.delay", line=10)


def book(
    *editions: Edition,
    places: Sequence[Place] = (),
    calculations: Sequence[Calculation] = (AUTOMATIC, SLOW),
    readings: Sequence[Reading] = (READING,),
) -> Book:
    """A book of these editions, by default the first one and 2017, which carries everything."""
    those = editions or (first_edition(), edition("2017", "2014", carried=[ALL_CARRIED]))
    names = tuple(each.edition for each in those)
    question = {
        name: Question(name, "R03", "?", "control" if name == "acts" else "contact", {}, frozenset(), at())
        for name in QUESTIONS
    }
    return Book(
        "rulebook",
        question,
        {},
        (),
        {each.id: each for each in calculations},
        {each.id: each for each in readings},
        {"nfpa-70": Document("nfpa-70", "electrical", "A code", "A publisher", names, at())},
        {(each.document, each.edition): each for each in those},
        {each.id: each for each in places},
        (),
    )
