"""What a control must be to be ordered: its kind, the rating it needs, and whether it may feed a receptacle."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from yokebook.graph import Thing
from yokebook.model import Book
from yokebook.showing import show_value, unit_of
from yokebook_adapters.outcome import RulingData

#: Numbers of the rulings on a control (see rulebook/questions): may it feed a receptacle, is it rated for the circuit,
#: for the loads, for the motors.
MAY_FEED, RATING, LOADS, MOTORS = "R11", "R12", "R13", "R40"

#: Figures of these rulings that say how big the control has to be, and what is on it.
_NEEDED = ("control.circuit_breaker", "control.breaker_permitted", "control.receptacle_amps")
_CARRIED = {
    LOADS: ("control.load_amps", "control.load_w", "control.motor_load_amps"),
    MOTORS: ("control.motor_hp", "control.motor_amps"),
}
_AMPS, _HORSEPOWER = "control.load_amps", "control.motor_hp"


def control_data(control: Thing, ruled: Sequence[RulingData], book: Book) -> dict[str, Any]:
    """One control: `ruled` are the rulings on it.

    `given` (what is given of it, by fact); `rated` as text or None; `needed`, each figure `{says, value, exact}` that
    the ruling on its rating compares with; `rating`, that ruling's words; `carries`, the figures of what is on it;
    `loads` and `motors`, the words on these; `may_feed`, the words on whether it may feed a receptacle; `order`, the
    control in words to order by.
    """
    given = facts_given(control, book)
    needed = _figures(control, ruled, RATING, _NEEDED)
    carries = [figure for number, names in _CARRIED.items() for figure in _figures(control, ruled, number, names)]
    data = {
        "control": control.id,
        "label": control.label or control.id,
        "given": given,
        "rated": _rated(control, ruled, given),
        "needed": needed,
        "rating": words_of(ruled, RATING),
        "carries": carries,
        "loads": words_of(ruled, LOADS),
        "motors": words_of(ruled, MOTORS),
        "may_feed": words_of(ruled, MAY_FEED),
    }
    return {**data, "order": _order_words(data)}


def facts_given(thing: Thing, book: Book) -> dict[str, str]:
    """What is given of a thing, by the fact's name without its kind, as text with units."""
    return {name.partition(".")[2]: show_value(v, unit_of(book, name)) for name, v in thing.given.items()}


def words_of(ruled: Sequence[RulingData], number: str) -> list[str]:
    """The words of the rulings under one number, each once."""
    return list(dict.fromkeys(ruling["word"] for ruling in ruled if ruling["ruling"] == number))


def _figures(
    control: Thing, ruled: Sequence[RulingData], number: str, names: Sequence[str]
) -> list[dict[str, str | None]]:
    """The figures of the control itself in the rulings under one number, each once."""
    found: dict[str, dict[str, str | None]] = {}
    for figure in (figure for ruling in ruled if ruling["ruling"] == number for figure in ruling["figures"]):
        if figure["calculation"] in names and figure["subject"] == control.id:
            keys = ("calculation", "says", "value", "exact", "unit")
            found.setdefault(figure["calculation"], {key: figure[key] for key in keys})
    return list(found.values())


def _rated(control: Thing, ruled: Sequence[RulingData], given: Mapping[str, str]) -> str | None:
    """The rating in amperes, as given or as it comes out of what is given; else the watts; None where neither is."""
    if "amps" in given:
        return given["amps"]
    for number in (RATING, LOADS):
        for figure in _figures(control, ruled, number, ("control.amps",)):
            if figure["exact"] is not None:
                return figure["value"]
    return given.get("watts_w")


# ---- in words to order by ----------------------------------------


def _order_words(data: Mapping[str, Any]) -> str:
    kind, needed = data["given"].get("kind", "control of a kind not given"), rating_needed(data)
    parts = [kind, needed]
    if not needed.startswith("at least"):
        parts.append(f"rated {data['rated']} as given" if data["rated"] else "rating not given")
    parts += [f"loads of {figure['value']}" for figure in data["carries"] if _beyond(figure, data["needed"])]
    parts += [f"motors of {f['value']}" for f in data["carries"] if f["calculation"] == _HORSEPOWER and _exact(f)]
    parts += [f"may feed receptacles: {word}" for word in data["may_feed"]]
    return ", ".join(parts)


def rating_needed(data: Mapping[str, Any]) -> str:
    """How big the control has to be for the circuit, in words; `data` as control_data gives it."""
    if data["rating"] == ["does not apply"]:
        return "no rating asked for by its receptacles"
    known = {exact: str(f["value"]) for f in data["needed"] if (exact := _exact(f)) is not None}
    if not known or any(_exact(figure) is None for figure in data["needed"]):
        return "rating needed not known"
    texts = [known[exact] for exact in sorted(known)]
    return f"at least {texts[0]}" if len(texts) == 1 else f"at least {' or '.join(texts)} as the clause is read"


def _beyond(figure: Mapping[str, Any], needed: Sequence[Mapping[str, Any]]) -> bool:
    """Whether the loads take more than everything else asks for, so that they decide the size."""
    load = _exact(figure) if figure["calculation"] == _AMPS else None
    return load is not None and load > max((exact for f in needed if (exact := _exact(f)) is not None), default=0)


def _exact(figure: Mapping[str, Any]) -> Fraction | None:
    return None if figure["exact"] is None else Fraction(figure["exact"])
