"""The columns of a table that say something of a record: which fact each gives, and what of it SQL can take as it is.

A cell that is not in a usual form (a word with blanks round it, a number with its unit, NaN, a word that nobody knows)
is not taken here: its row goes to the evaluator, whose front door reads or refuses it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from sqlglot import exp

from yokebook.entities import KIND_OF_PREFIX, Kind
from yokebook.intake.record import CHOICE_PREFIX, DATE_PREFIX, no_fact
from yokebook.intake.vocabulary import Term, Vocabulary
from yokebook.load.faults import Fault, InputFaults
from yokebook_adapters.columns.logic import (
    DIGITS,
    NUMBER,
    SCALE,
    Sql,
    among,
    atom,
    both,
    case,
    column,
    either,
    false,
    given,
    missing,
    negated,
    null,
    surely,
    text,
    true,
)
from yokebook_adapters.schedule_columns import NOT_GIVEN

#: What kind of values a column of a table holds.
Holds = Literal["text", "yes or no", "whole numbers", "decimals", "floats", "something else"]

#: What a column may be that gives no fact: who said it; carried along and not looked at.
_CARRIED = "stated_by"

#: Only short runs of plain digits are numbers to SQL; the rest is the front door's to read.
_PLAIN_NUMBER = rf"^[0-9]{{1,{DIGITS - SCALE}}}(\.[0-9]{{1,{SCALE}}})?$"
#: Text without control characters or blanks at its ends.
_PLAIN_TEXT = r"^[^\x00-\x20\x7f]([^\x00-\x1f\x7f]*[^\x00-\x20\x7f])?$"

_NOT_GIVEN = frozenset(word.casefold() for word in NOT_GIVEN)


@dataclass(frozen=True)
class SourceColumn:
    """A column of a table that gives something of a record."""

    name: str
    key: str  # a fact's or calculation's full id, or another key of a flat record
    holds: Holds
    term: Term | None  # None for another key of a flat record

    @property
    def kind(self) -> Kind:
        """The kind of thing that it says something of."""
        return KIND_OF_PREFIX[self.key.partition(".")[0]] if self.term is None else self.term.kind


@dataclass(frozen=True)
class Given:
    """What SQL takes of a column: the value, NULL where none is given, and whether every cell is in a usual form."""

    source: SourceColumn
    value: Sql
    usual: Sql  # never NULL


@dataclass(frozen=True)
class Words:
    """The different words found in a text column: those not in a usual form that can be read all the same, with what
    they say (None: nothing is given), and those that the front door refuses."""

    read: Mapping[str, str | bool | None] = field(default_factory=dict)
    refused: tuple[str, ...] = ()


def source_columns(
    columns: Iterable[tuple[str, Holds]], words: Vocabulary, facts: Mapping[str, str] | None = None
) -> list[SourceColumn]:
    """The columns that give something, by name or by `facts` (column: fact); the others are carried along.

    Raises InputFaults for a column named like a fact that is none, two columns for one fact, a column of `facts` that
    the table has not, and for a place, date or choice, which one law for the whole table leaves no room for.
    """
    faults: list[Fault] = []
    found: dict[str, SourceColumn] = {}
    named = dict(columns)
    for name in facts or {}:
        if name not in named:
            faults.append(Fault(f"column `{name}`", "the table has no such column"))
    for name, holds in named.items():
        key = (facts or {}).get(name, name)
        prefix = key.partition(".")[0]
        if key == "project.place" or key.startswith((DATE_PREFIX, CHOICE_PREFIX)):
            message = f"`{key}` cannot be a column, because one law rules the whole table; divide the table by it"
            faults.append(Fault(f"column `{name}`", message))
        elif key.endswith(_CARRIED) or (key not in words.record_keys and name == key and not _like_a_fact(prefix, key)):
            continue
        elif key not in words.record_keys:
            faults.append(Fault(f"column `{name}`", no_fact(key, words.record_keys)))
        elif key in found:
            faults.append(Fault(f"column `{name}`", f"`{key}` is given by the column `{found[key].name}` already"))
        else:
            found[key] = SourceColumn(name, key, holds, words.terms.get(key))
    if faults:
        raise InputFaults(faults)
    return list(found.values())


def _like_a_fact(prefix: str, key: str) -> bool:
    return "." in key and (prefix in KIND_OF_PREFIX or prefix == "answer")


def take(source: SourceColumn, words: Words | None) -> Given:
    """What SQL takes of a column; `words` are those found in a text column, None where nobody looked."""
    raw = column(source.name)
    term = source.term
    if term is None or term.type == "text":
        return _other(source, raw)
    if term.type == "number":
        return _number(source, term, raw)
    if term.type == "yes_no" and source.holds == "yes or no":
        return _allowed(source, term, raw, true())
    if source.holds != "text":
        return Given(source, null(), missing(raw))
    usual_words = words_of(term)
    if words is None:
        known = among(raw, usual_words)
        value = _meaning(raw, usual_words) if term.type == "yes_no" else case([(known, raw)], null())
        return _allowed(source, term, value, either([missing(raw), surely(known)]))
    refused = surely(among(raw, words.refused)) if words.refused else false()
    unread: dict[str, str | bool | None] = {**dict.fromkeys(words.refused), **words.read}
    if term.type == "yes_no":
        value = _meaning(raw, {**usual_words, **{w: v for w, v in unread.items() if v is not None}})
    else:
        arms = [(among(raw, [word]), null() if v is None else text(str(v))) for word, v in unread.items()]
        value = case(arms, raw)
    return _allowed(source, term, value, negated(refused))


def words_of(term: Term) -> Mapping[str, str | bool]:
    """The usual words of a choice or a yes or no, with what each says."""
    if term.type == "yes_no":
        return {"yes": True, "true": True, "no": False, "false": False}
    return {word: word for word in term.values if word.casefold() not in _NOT_GIVEN}


def _meaning(raw: Sql, words: Mapping[str, str | bool]) -> Sql:
    yes = [word for word, means in words.items() if means is True]
    no = [word for word, means in words.items() if means is False]
    return case([(among(raw, yes), true()), (among(raw, no), false())], null())


def _other(source: SourceColumn, raw: Sql) -> Given:
    """A text that no rule tests, or a key that is no fact: whether a list is complete, or that there is nothing."""
    if source.term is not None:
        if source.holds != "text":
            return Given(source, null(), missing(raw))
        plain = exp.RegexpLike(this=raw.copy(), expression=text(_PLAIN_TEXT))
        says_something = negated(among(exp.Lower(this=raw.copy()), sorted(_NOT_GIVEN)))
        return Given(source, raw, either([missing(raw), surely(both([plain, says_something]))]))
    if not source.key.endswith(".complete"):
        return Given(source, null(), missing(raw))
    if source.holds == "yes or no":
        return Given(source, raw, true())
    if source.holds != "text":
        return Given(source, null(), missing(raw))
    value = case([(among(raw, ["yes", "true"]), true()), (among(raw, ["no", "false"]), false())], null())
    return Given(source, value, either([missing(raw), given(value)]))


def _number(source: SourceColumn, term: Term, raw: Sql) -> Given:
    """A number as a decimal: one that is written with a unit, or does not fit, is not taken."""
    if source.holds == "text":
        plain = exp.RegexpLike(this=raw.copy(), expression=text(_PLAIN_NUMBER))
        value = exp.TryCast(this=case([(surely(plain), raw)], null()), to=exp.DataType.build(NUMBER), safe=True)
        return _allowed(source, term, value, either([missing(raw), surely(plain)]))
    if source.holds not in ("whole numbers", "decimals", "floats"):
        return Given(source, null(), missing(raw))
    value = exp.TryCast(this=raw.copy(), to=exp.DataType.build(NUMBER), safe=True)
    fits = given(value)
    if source.holds != "whole numbers":
        back = exp.Cast(this=value.copy(), to=exp.DataType.build("DOUBLE")) if source.holds == "floats" else value
        fits = exp.EQ(this=back.copy(), expression=raw.copy())
    return _allowed(source, term, value, either([missing(raw), surely(fits)]))


def _allowed(source: SourceColumn, term: Term, value: Sql, usual: Sql) -> Given:
    """The value with the bounds of its fact, and without what is refused of a calculation, looked after as well."""
    tests: list[Sql] = []
    if term.low is not None:
        tests.append(beyond(value, term.low, low=True, open_end=term.low_open))
    if term.high is not None:
        tests.append(beyond(value, term.high, low=False, open_end=term.high_open))
    if term.whole:
        tests.append(exp.EQ(this=value.copy(), expression=exp.Floor(this=value.copy())))
    if term.only is not None:
        tests.append(equals_any(value, term.only))
    if term.refuse:
        tests.append(negated(equals_any(value, [v for refused in term.refuse for v in refused.values])))
    if not tests:
        return Given(source, value, usual)
    return Given(source, value, both([usual, either([missing(value), surely(both(tests))])]))


# ---- numbers --------------------------------------------------------------------------------------------------------


def number(value: Fraction) -> Sql | None:
    """A number as a decimal literal; None for one that has more digits."""
    scaled = value * 10**SCALE
    if scaled.denominator != 1 or abs(scaled) >= 10**DIGITS:
        return None
    written = format(Decimal(scaled.numerator).scaleb(-SCALE).normalize(), "f")
    return exp.Cast(this=exp.Literal.number(written), to=exp.DataType.build(NUMBER))


def beyond(value: Sql, end: Fraction, *, low: bool, open_end: bool) -> Sql:
    """Whether a decimal lies on the right side of an end: the end is moved to the next decimal, so that the answer is
    exact for an end that is none."""
    scaled = end * 10**SCALE
    whole = scaled.numerator // scaled.denominator
    exact = scaled.denominator == 1
    if low:
        first = whole + 1 if not exact or open_end else whole
        if abs(first) >= 10**DIGITS:
            return case([(given(value), false() if first > 0 else true())], null())
        return exp.GTE(this=atom(value), expression=number(Fraction(first, 10**SCALE)))
    last = whole - 1 if exact and open_end else whole
    if abs(last) >= 10**DIGITS:
        return case([(given(value), true() if last > 0 else false())], null())
    return exp.LTE(this=atom(value), expression=number(Fraction(last, 10**SCALE)))


def equals_any(value: Sql, members: Iterable[object]) -> Sql:
    """Whether a value is one of these words, truths or numbers; NULL where it is not known."""
    several = list(members)
    if any(isinstance(member, bool) for member in several):
        parts = [value if member else negated(value) for member in several if isinstance(member, bool)]
        return case([(given(value), true())], null()) if len({p.sql() for p in parts}) == 2 else parts[0]
    literals = [number(m) if isinstance(m, Fraction) else text(str(m)) for m in in_stable_order(several)]
    return among(value, [literal for literal in literals if literal is not None])


def in_stable_order(members: Sequence[object]) -> list[object]:
    """Numbers by size, words by letter."""
    return sorted(members, key=lambda m: (not isinstance(m, Fraction), m if isinstance(m, Fraction) else 0, str(m)))
