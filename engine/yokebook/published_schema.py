"""The JSON Schemas that a rulebook's facts and calculations imply: for flat records and for project files.

The front door accepts what these accept, value by value, and refuses what they refuse. A schema cannot say, and so the
front door alone refuses: a fact given where it does not apply; an id that is repeated or leads nowhere; a place, event
or choice that no place of the rulebook has; a day that is not in the calendar; a receptacle said to be complete without
a contact device; a stated value that differs from the computed one; a number written as text with its unit that is out
of a range other than "at least 0" and "above 0"; and NaN or infinity, which JSON does not have.

`python -m yokebook.published_schema` writes both into the checkout's schemas folder.
"""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

from yokebook.entities import KINDS, LISTS, PREFIX, REFERENCE, REFERENCES, Kind
from yokebook.intake.project import CHILDREN, WITHOUT_SLASH
from yokebook.intake.record import CHOICE_PREFIX, DATE_PREFIX
from yokebook.intake.thing_reader import NOTHING
from yokebook.intake.value import only_forms
from yokebook.intake.vocabulary import Term, Vocabulary, vocabulary
from yokebook.load.book import load_book
from yokebook.model import Book, Value
from yokebook.shipped import folder as shipped_folder
from yokebook.units import MEASURE_OF, Measure, must_carry_unit

Schema = dict[str, object]

_DIALECT = "https://json-schema.org/draft/2020-12/schema"
#: The very end of a text; `$` would let a last newline pass in some dialects of patterns.
_END = "(?![\\s\\S])"
_DATE = f"^[0-9]{{4}}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01]){_END}"
_SOME_TEXT = "\\S"
_YES_OR_NO: list[object] = [True, False, "yes", "no", None]
_LONGEST = 60

#: Unsigned numbers as units.py reads them, and those of them that are zero.
_WHOLE, _DENOMINATOR, _EXPONENT = "[0-9]+", "0*[1-9][0-9]*", "(?:[eE][+-]?[0-9]{1,2})?"
_NUMBER = f"(?:{_WHOLE} {_WHOLE}/{_DENOMINATOR}|{_WHOLE}/{_DENOMINATOR}|{_WHOLE}(?:\\.{_WHOLE})?{_EXPONENT})"
_ZERO = f"(?:0+ 0+/{_DENOMINATOR}|0+/{_DENOMINATOR}|0+(?:\\.0+)?{_EXPONENT})"

_WORDS: dict[Kind, str] = {
    "project": "the project",
    "space": "a room or other space",
    "wall": "a stretch of wall without a break, corners included",
    "yoke": "a receptacle: one yoke with its contact devices",
    "contact": "one contact device, such as the upper half of a duplex",
    "control": "what takes power away",
    "circuit": "a branch circuit",
    "load": "what is plugged in or connected",
}


def record_schema(book: Book) -> Schema:
    """The schema of a flat record, as JSON-able data."""
    words = vocabulary(book)
    properties = {term.id: _term(term, bare_numbers=True) for term in words.terms.values()}
    properties |= _record_structure()
    return {
        "$schema": _DIALECT,
        "title": "Flat record",
        "description": "What is known of one receptacle and what controls it; what is left out or null is not known.",
        "type": "object",
        "properties": dict(sorted(properties.items())),
        "patternProperties": {
            f"^{DATE_PREFIX.replace('.', '[.]')}.": _dated("The day of this event, such as the permit application."),
            f"^{CHOICE_PREFIX.replace('.', '[.]')}.": _text(
                "Which alternative the project takes where a place offers one."
            ),
        },
        "additionalProperties": False,
    }


def _record_structure() -> dict[str, Schema]:
    made = {"stated_by": _text("Who states the facts of this record.")}
    made["project.place"] = _text("The place whose law is asked for, by its id in the rulebook.")
    for kind in KINDS:
        prefix = PREFIX[kind]
        made[f"{prefix}.stated_by"] = _text(f"Who states the {prefix}'s facts.")
        for name, of in LISTS[kind].items():
            if of.flagged:
                says = f"Whether the record names every one of the {prefix}'s {_plain(name)}."
                made[f"{prefix}.{name}.complete"] = {"description": says, "enum": _YES_OR_NO}
        for name in REFERENCE.get(kind, {}):
            says = f"`{NOTHING}` where the {prefix} has no {name}; else leave it out and state facts of the {name}."
            made[f"{prefix}.{name}"] = {"description": says, "enum": [NOTHING, None]}
    return made


def project_schema(book: Book) -> Schema:
    """The schema of a project file, as JSON-able data."""
    words = vocabulary(book)
    lists = {name: _list_of(kind, f"The project's {_plain(name)}.") for name, kind in CHILDREN["project"].items()}
    return {
        "$schema": _DIALECT,
        "title": "Project",
        "description": "A building or part of one: its rooms, walls, receptacles, controls, circuits and loads.",
        "type": "object",
        "properties": {
            "project": {"$ref": "#/$defs/project", "description": "The project itself: its place, dates and facts."},
            "complete": {
                "description": "Whether every list in this file is complete, unless a thing says otherwise of its own.",
                "enum": _YES_OR_NO,
            },
            **lists,
        },
        "additionalProperties": False,
        "$defs": {PREFIX[kind]: _thing(kind, words) for kind in KINDS},
    }


def _thing(kind: Kind, words: Vocabulary) -> Schema:
    structure = _project_keys() if kind == "project" else _thing_keys(kind)
    facts = {key: _term(term, bare_numbers=False) for key, term in sorted(words.keys[kind].items())}
    made: Schema = {
        "description": f"{_WORDS[kind][0].upper()}{_WORDS[kind][1:]}.",
        "type": ["object", "null"] if kind == "project" else "object",
        "properties": structure | {"complete": _complete(kind)} | facts,
        "additionalProperties": False,
    }
    return made if kind == "project" else made | {"required": ["id"]}


def _project_keys() -> dict[str, Schema]:
    return {
        "place": _text("The place whose law governs, by its id in the rulebook."),
        "dates": {
            "description": "The day of each event on which the governing law may turn.",
            "type": ["object", "null"],
            "additionalProperties": _dated("The day of this event."),
        },
        "choices": {
            "description": "Which alternative the project takes, where its place offers a choice.",
            "type": ["object", "null"],
            "additionalProperties": _text("The alternative taken."),
        },
        "stated_by": _text("Who states the facts of this file, unless a thing says otherwise."),
    }


def _thing_keys(kind: Kind) -> dict[str, Schema]:
    made: dict[str, Schema] = {"id": _id(kind), "stated_by": _text("Who states the facts of this and what is in it.")}
    for name, child in CHILDREN.get(kind, {}).items():
        made[name] = _list_of(child, f"The {_plain(name)} in it.")
    for name, target in REFERENCE.get(kind, {}).items():
        made[name] = _text(f"The id of its {target}, or `{NOTHING}` where there is nothing.")
    for name, target in REFERENCES.get(kind, {}).items():
        made[name] = {
            "description": f"The ids of the {target}s among its {_plain(name)}.",
            "type": ["array", "null"],
            "items": {"description": f"The id of a {target}.", "type": "string", "pattern": _SOME_TEXT},
            "uniqueItems": True,
        }
    return made


def _id(kind: Kind) -> Schema:
    inside = kind in WITHOUT_SLASH
    says = "Its id, unlike any other beside it" + ("; without a slash, which divides a path." if inside else ".")
    pattern = f"^(?=[^/]*[^/\\s])[^/]+{_END}" if inside else _SOME_TEXT
    return {"description": says, "type": "string", "pattern": pattern, "not": {"const": NOTHING}}


def _list_of(kind: Kind, says: str) -> Schema:
    return {"description": says, "type": ["array", "null"], "items": {"$ref": f"#/$defs/{PREFIX[kind]}"}}


def _complete(kind: Kind) -> Schema:
    lists: dict[str, Schema] = {
        name: {"description": f"Whether every one of its {_plain(name)} is listed.", "enum": _YES_OR_NO}
        for name, of in LISTS[kind].items()
        if of.flagged
    }
    every: Schema = {"description": "One word for all of its lists.", "enum": _YES_OR_NO}
    each: Schema = {
        "description": "List by list.",
        "type": "object",
        "properties": lists,
        "additionalProperties": False,
    }
    return {"description": "Which of its lists are complete; what is not said to be is not.", "anyOf": [every, each]}


def _plain(list_name: str) -> str:
    return {"yokes": "receptacles", "contacts": "contact devices", "wired_loads": "loads wired in place"}.get(
        list_name, list_name
    )


def _text(says: str) -> Schema:
    return {"description": says, "type": ["string", "null"], "pattern": _SOME_TEXT}


def _dated(says: str) -> Schema:
    return {"description": f"{says} As year, month and day.", "type": ["string", "null"], "pattern": _DATE}


# ---- one fact or calculation ---------------------------------------------------------------------------------------


def _term(term: Term, *, bare_numbers: bool) -> Schema:
    says: Schema = {"description": _description(term)}
    if term.only is not None:
        return says | {"enum": [*only_forms(term, bare_numbers=bare_numbers), None]}
    match term.type:
        case "yes_no":
            return says | {"enum": _YES_OR_NO}
        case "choice":
            return says | {"enum": [*term.values, None]}
        case "text":
            return says | {"type": ["string", "null"], "pattern": _SOME_TEXT}
    return says | _number(term, bare=bare_numbers or not must_carry_unit(term.unit))


def _description(term: Term) -> str:
    parts = [term.says]
    if term.computed:
        parts.append("Computed from other facts; stated, it must agree with them.")
    if term.unit is not None:
        parts.append(f"In {term.unit}.")
    parts += [f"{word}: {meaning}." for word, meaning in term.values.items()]
    parts += [f"Not {_shown_values(term, refuse.values)}: {refuse.because}." for refuse in term.refuse]
    return " ".join(parts)


def _shown_values(term: Term, values: frozenset[Value]) -> str:
    return " or ".join(sorted(str(value) for value in values)) + (f" {term.unit}" if term.unit else "")


def _number(term: Term, *, bare: bool) -> Schema:
    made: Schema = {"type": [*(["integer" if term.whole else "number"] if bare else []), *_string_type(term), "null"]}
    if bare and term.low is not None:
        made["exclusiveMinimum" if term.low_open else "minimum"] = _json_number(term.low)
    if bare and term.high is not None:
        made["exclusiveMaximum" if term.high_open else "maximum"] = _json_number(term.high)
    if term.unit is not None:
        positive = term.low == 0 and term.low_open
        made |= {"pattern": quantity_pattern(MEASURE_OF[term.unit], positive=positive), "maxLength": _LONGEST}
    return made


def _string_type(term: Term) -> list[str]:
    return [] if term.unit is None else ["string"]


def _json_number(value: Fraction) -> int | float:
    return int(value) if value.denominator == 1 else float(value)


def quantity_pattern(measure: Measure, *, positive: bool) -> str:
    """A pattern for numbers of this kind written with a unit; with `positive`, for none that is zero."""
    names = sorted(measure.sizes, key=lambda name: measure.sizes[name], reverse=True)
    wanted = _quantity(_NUMBER, names, mixed=measure.mixed)
    zero = _quantity(_ZERO, names, mixed=measure.mixed)
    return f"^(?!{zero}{_END}){wanted}{_END}" if positive else f"^{wanted}{_END}"


def _quantity(number: str, names: list[str], *, mixed: bool) -> str:
    if mixed:  # larger units first, each at most once, and at least one of them
        return "(?=.)" + "".join(f"(?:{number} ?{name} *)?" for name in names)
    return f"{number} ?(?:{'|'.join(names)}) *"


# ---- the published files -------------------------------------------------------------------------------------------


def write(book: Book, folder: Path) -> list[Path]:
    """Writes record.schema.json and project.schema.json into `folder`; the paths written."""
    written = []
    for name, schema in (("record", record_schema(book)), ("project", project_schema(book))):
        path = folder / f"{name}.schema.json"
        path.write_text(text_of(schema), encoding="utf-8")
        written.append(path)
    return written


def text_of(schema: Schema) -> str:
    """A schema as the text of its published file."""
    return json.dumps(schema, indent=2, ensure_ascii=False) + "\n"


def main() -> None:
    """Writes the schemas of the shipped rulebook and prints the paths."""
    for path in write(load_book(), shipped_folder("schemas")):
        print(path)


if __name__ == "__main__":
    main()
