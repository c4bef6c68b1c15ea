"""One stated value, read strictly by what its fact says it is."""

from __future__ import annotations

import math
import re
from datetime import date
from decimal import Decimal
from fractions import Fraction

from yokebook.intake.entry import Entry, Fields, Scalar, Unusable, Where, shown
from yokebook.intake.vocabulary import Term
from yokebook.load import nodes, scalars
from yokebook.load.faults import Fault, listed, suggest
from yokebook.model import Value
from yokebook.units import QuantityError, allowed_forms, format_number, must_carry_unit, parse, parse_any

_DECIMAL = re.compile(r"[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?")
_TOO_LARGE = re.compile(r"[0-9.]+[eE]\+?[0-9]{3,}( ?[A-Za-z ]*)")
_TRUTH = {"yes": True, "no": False}
_LONGEST_NUMBER = 60
_LARGEST_EXPONENT = 99


#: The classes of values of which equal ones are read alike.
_LIKE_THEMSELVES = frozenset({str, bool, int})


class Refused(ValueError):
    """A value that is not allowed; the message says what was found and, if it can, what is allowed."""


class _Unfit(Refused):
    """A value that its fact does not allow; the message says what was found only."""


class Reader:
    """Reads values of terms and collects the faults."""

    def __init__(self, faults: list[Fault], *, bare_numbers: bool) -> None:
        """`bare_numbers` takes a number without its unit as being in the fact's own unit, as flat records may."""
        self.faults = faults
        self.bare_numbers = bare_numbers
        #: values read already, by the fact and what was found: in a big project most are given over and over
        self._read: dict[tuple[str, type, object], Value] = {}

    def refuse(self, at: Where, name: str, message: str) -> None:
        """Notes a fault of the field `name`; the place's own words are not said twice."""
        told = isinstance(at, str) and at.rpartition(".")[2] == name.rpartition(".")[2]
        self.faults.append(Fault(at, message if told else f"`{name}`: {message}"))

    def value(self, term: Term, entry: Entry) -> Value | None:
        """The value of a choice, yes/no or number in the fact's own unit; None for null or after noting a fault."""
        found = entry.value
        if found is None:
            return None
        its = (term.id, found.__class__, found)
        try:
            if found.__class__ not in _LIKE_THEMSELVES:
                return self._checked(term, found)
            value = self._read.get(its)
            if value is None:
                value = self._read[its] = self._checked(term, found)
            return value
        except _Unfit as unfit:
            self.refuse(entry.at, term.id, f"{unfit}; allowed: {allowed(term, self.bare_numbers)}")
        except Refused as refused:
            self.refuse(entry.at, term.id, str(refused))
        return None

    def _checked(self, term: Term, found: Scalar | Fields | tuple[Entry, ...]) -> Value:
        if isinstance(found, Fields | tuple | Unusable):
            raise _Unfit(f"found {shown(found)}")
        match term.type:
            case "yes_no":
                value: Value = _yes_or_no(found)
            case "choice":
                value = _choice(term, found)
            case _:
                value = self._number(term, found)
        for refused in term.refuse:
            if value in refused.values:
                raise Refused(f"`{shown(found)}` is refused: {refused.because}")
        if term.only is not None and not self._looked_up(term, value, found):
            raise _Unfit(f"`{shown(found)}` is no value that this can have")
        return value

    def _looked_up(self, term: Term, value: Value, found: Scalar) -> bool:
        """Whether a look-up can give this value; as text it is spelled in one way, so that a schema can list it."""
        text = found.text if isinstance(found, nodes.Scalar) and not found.is_number else found
        as_text = isinstance(text, str) and term.type == "number"
        return value in (term.only or ()) and (not as_text or text in only_forms(term, bare_numbers=self.bare_numbers))

    def _number(self, term: Term, found: Scalar) -> Fraction:
        value = self._any_number(term, found)
        below = term.low is not None and (value < term.low or (term.low_open and value == term.low))
        above = term.high is not None and (value > term.high or (term.high_open and value == term.high))
        if below or above or (term.whole and value.denominator != 1):
            raise _Unfit(f"`{shown(found)}` is out of range")
        return value

    def _any_number(self, term: Term, found: Scalar) -> Fraction:
        bare = _bare_number(found)
        if bare is not None:
            if must_carry_unit(term.unit) and not self.bare_numbers:
                raise _Unfit(f"`{shown(found)}` has no unit")
            return bare
        text = found.text if isinstance(found, nodes.Scalar) else found
        if not isinstance(text, str) or (isinstance(found, nodes.Scalar) and found.truth is not None):
            raise _Unfit(f"`{shown(found)}` is a {_kind_of(found)} where a number is due")
        if _TOO_LARGE.fullmatch(text):
            raise _Unfit(f"`{shown(found)}` is too large a number")
        try:
            if term.unit is None or parse_any(text)[1] is None:
                if _DECIMAL.fullmatch(text):
                    raise _Unfit(f"`{shown(found)}` in quotes is text where a number is due")
                raise _Unfit(f"`{shown(found)}` is text where a number is due")
            return parse(text, term.unit)
        except QuantityError as error:
            raise _Unfit(str(error).partition("; allowed: ")[0]) from None

    def text(self, name: str, entry: Entry) -> str | None:
        """Free text or an id; None for null or after noting a fault."""
        if not entry.given:
            return None
        try:
            return text_of(entry.value)
        except Refused as refused:
            self.refuse(entry.at, name, str(refused))
            return None

    def yes_or_no(self, name: str, entry: Entry) -> bool | None:
        """A flag such as `complete`; None for null or after noting a fault."""
        if not entry.given:
            return None
        try:
            return _yes_or_no(entry.value)
        except Refused as refused:
            self.refuse(entry.at, name, str(refused))
            return None


def text_of(found: Scalar | Fields | tuple[Entry, ...]) -> str:
    """Text as given. Raises Refused for anything else, and for a plain scalar of a file that an editor would read as a
    number or a yes or no, because its spelling would be lost there."""
    if isinstance(found, nodes.Scalar):
        try:
            return scalars.text_of(found)
        except ValueError as error:
            raise Refused(str(error)) from None
    if not isinstance(found, str):
        raise Refused(f"text is due here, found {quoted(found)}")
    if not found.strip():
        raise Refused("text is due here, found an empty text")
    return found


def quoted(found: Scalar | Fields | tuple[Entry, ...]) -> str:
    """A value as a message names it: in backticks if it was written, else as what it is."""
    return shown(found) if isinstance(found, Fields | tuple | Unusable) else f"`{shown(found)}`"


def _yes_or_no(found: Scalar | Fields | tuple[Entry, ...]) -> bool:
    truth = found.truth if isinstance(found, nodes.Scalar) else _TRUTH.get(found) if isinstance(found, str) else found
    if isinstance(truth, bool):
        return truth
    raise Refused(f"{quoted(found)} is neither yes nor no; allowed: yes, no, true, false")


def _choice(term: Term, found: Scalar) -> str:
    word = found.text if isinstance(found, nodes.Scalar) and not found.is_number else found
    if isinstance(word, str) and word in term.values:
        return word
    close = suggest(word, term.values) if isinstance(word, str) else ""
    raise _Unfit(f"{quoted(found)} is none of the answers{close}")


def _kind_of(found: Scalar) -> str:
    return "date" if isinstance(found, date) else "yes or no"


def _bare_number(found: Scalar) -> Fraction | None:
    """The number that a value is without any unit; None when it is no number at all. Decimal fractions are exact: the
    float 0.1 is one tenth, as it was written."""
    match found:
        case bool():
            return None
        case int() | Fraction():
            return Fraction(found)
        case float():
            if not math.isfinite(found):
                raise _Unfit(f"`{found}` is not a number")
            return Fraction(repr(found))
        case Decimal():
            if not found.is_finite() or abs(found.adjusted()) > _LARGEST_EXPONENT:
                raise _Unfit(f"`{found}` is not a usable number")
            return Fraction(found)
        case nodes.Scalar(text=text) if _DECIMAL.fullmatch(text):
            exponent = text.lower().partition("e")[2]
            if len(text) > _LONGEST_NUMBER:
                raise _Unfit(f"`{shown(found)}` is too long for a number")
            if abs(int(exponent or "0")) > _LARGEST_EXPONENT:
                raise _Unfit(f"`{shown(found)}` is too {'small' if exponent.startswith('-') else 'large'} a number")
            return Fraction(text)
        case _:
            return None


def allowed(term: Term, bare_numbers: bool) -> str:
    """What a term may be given as, for messages."""
    match term.type:
        case "yes_no":
            return "yes, no"
        case "choice":
            return listed(term.values, most=30)
        case "text":
            return "text"
    if term.only is not None:
        return listed(str(form) for form in only_forms(term, bare_numbers=bare_numbers))
    form = allowed_forms(term.unit)
    if term.whole:
        form = form.replace("plain number", "whole number")
    if bare_numbers and must_carry_unit(term.unit):
        form = f"{form}, or a plain number in `{term.unit}`"
    return form + "".join(f", {end}" for end in _ends(term))


def _ends(term: Term) -> list[str]:
    ends = []
    if term.low is not None:
        ends.append(f"{'above' if term.low_open else 'at least'} {format_number(term.low)}")
    if term.high is not None:
        ends.append(f"{'below' if term.high_open else 'at most'} {format_number(term.high)}")
    return ends


def only_forms(term: Term, *, bare_numbers: bool) -> list[str | int | float | bool]:
    """Every way to write a value that a look-up can give, bare numbers first."""
    only = term.only or frozenset()
    numbers = sorted(value for value in only if isinstance(value, Fraction))
    forms: list[str | int | float | bool] = []
    if bare_numbers or not must_carry_unit(term.unit):
        forms += [int(number) if number.denominator == 1 else float(number) for number in numbers]
    if term.unit is not None:
        forms += [format_number(number, term.unit) for number in numbers]
    forms += [truth for truth in (True, False) if truth in only and term.type == "yes_no"]
    forms += [word for word, truth in _TRUTH.items() if truth in only and term.type == "yes_no"]
    return forms + [word for word in term.values if word in only]
