"""The device to buy for one yoke: what it is, what it must have, and whether such a device is made. No make is named.

Everything is read off rulings and facts given; what neither gives is told as not known.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from yokebook.graph import Thing
from yokebook_adapters.finding_text import reasons
from yokebook_adapters.outcome import RulingData
from yokebook_adapters.views import FED_INSIDE, fed_apart

#: Questions whose outcome `required` is a feature of the device, and the feature in trade words.
_FEATURES = {
    "protection.tamper-resistant": "tamper-resistant",
    "protection.replacement.tamper-resistant": "tamper-resistant",
    "protection.weather-resistant": "weather-resistant",
    "protection.replacement.weather-resistant": "weather-resistant",
}

#: Questions whose outcome `required` is protection that the device itself or something before it may give.
_PROTECTION = {
    "protection.ground-fault": "ground-fault protection",
    "protection.replacement.ground-fault": "ground-fault protection",
    "protection.arc-fault": "arc-fault protection of the circuit",
    "protection.replacement.arc-fault": "arc-fault protection of the circuit",
}
_COVER = "protection.weather-cover"

#: All questions on protection that a line of the schedule answers.
ASKED = (*_FEATURES, *_PROTECTION, _COVER)

#: Facts that are features wherever they are given as yes.
_GIVEN = {
    "receptacle.tamper_resistant": "tamper-resistant",
    "receptacle.weather_resistant": "weather-resistant",
    "receptacle.hospital_grade": "hospital grade",
    "receptacle.isolated_ground": "isolated ground",
    "receptacle.keyed_for_dimming": "keyed for dimmed lamps",
    "receptacle.usb": "with charging ports",
}

#: A device with ground-fault protection built in has no break-off tab: a fact about what is made.
_BUILT_IN = "GFCI duplex"
_NO_TAB = "a device with ground-fault protection built in has no tab to break"
_INSTEAD = "a duplex with break-off tabs, with the ground-fault protection in the breaker or in a device upstream"

_PART_EXISTS, _TABS = "R58", "R31"

#: The word for how sure a thing that is asked of a device is, where it is not settled.
_NOT_SETTLED = "not settled"


def device_of(part: Mapping[str, Any], yoke: Thing, ruled: Sequence[RulingData]) -> dict[str, Any]:
    """What to order for one yoke: `part` is its entry of views.parts_to_buy, `ruled` the rulings on it and its halves.

    `device` in words to order by; `features` and `protection`, each `{what, word}` with the word `required`, `as
    given` or `not settled`; `cover`; `made`: `yes` where a ruling says so, `no` where no such device is made, `ask`
    where the maker has to be asked, None where nothing says; `made_because`; `instead`, what to take where it is not
    made; `hot_tab` and `hot_tab_because`, of the device to take.
    """
    features, protection = _features(yoke, ruled), _asked(_PROTECTION, ruled)
    made, because, instead = _made(part, yoke, ruled)
    hot_tab, hot_because = part["hot_tab"], part["hot_tab_because"]
    if _split_by_tab(part, yoke) and hot_tab == "none on this device":
        hot_tab = "remove"
        hot_because = "the halves are fed apart; the device given has no tab to break, so take one that has"
    if made == "no":
        words = _words(part, yoke, ruled, features, form="duplex" if instead == _INSTEAD else None)
    else:
        words = _words(part, yoke, ruled, features, form=part["form"])
    return {
        "device": words,
        "features": features,
        "protection": [each | {"by": _protected_by(part, yoke, each["what"])} for each in protection],
        "cover": _cover(ruled),
        "made": made,
        "made_because": because,
        "instead": instead,
        "hot_tab": hot_tab,
        "hot_tab_because": hot_because,
    }


# ---- what it must have ----------------------------------------


def _features(yoke: Thing, ruled: Sequence[RulingData]) -> list[dict[str, str]]:
    """What the device itself must have or is given to have; each once, the stronger word first."""
    found = {each["what"]: each for each in _asked(_FEATURES, ruled)}
    for fact, what in _GIVEN.items():
        if yoke.given.get(fact) is True and found.get(what, {}).get("word") != "required":
            found[what] = {"what": what, "word": "as given"}
    return list(found.values())


def _asked(questions: Mapping[str, str], ruled: Sequence[RulingData]) -> list[dict[str, str]]:
    found: dict[str, str] = {}
    for ruling in ruled:
        what = questions.get(ruling["question"])
        if what is None:
            continue
        if ruling["outcome"] == "required":
            found[what] = "required"
        elif ruling["outcome"] is None and ruling["status"] != "none in force":
            found.setdefault(what, _NOT_SETTLED)
    return [{"what": what, "word": word} for what, word in found.items()]


def _cover(ruled: Sequence[RulingData]) -> str | None:
    """The cover that the ruling asks for, in its words; None where none is asked for or it was not asked."""
    words = [ruling["word"] for ruling in ruled if ruling["question"] == _COVER and not ruling["idle"]]
    return " or ".join(dict.fromkeys(words)) or None


def _protected_by(part: Mapping[str, Any], yoke: Thing, what: str) -> str:
    """What gives the protection, as far as it is given and can be."""
    if what != _PROTECTION["protection.ground-fault"]:
        return ""
    by = str(yoke.given.get("receptacle.gfci", ""))
    if by in ("breaker", "upstream device"):
        return by
    return "breaker or upstream device" if _split_by_tab(part, yoke) else by


# ---- whether it is made ----------------------------------------


def _split_by_tab(part: Mapping[str, Any], yoke: Thing) -> bool:
    """Whether the halves are fed apart, and known to be all, on a device that is split by breaking its tab."""
    inside = part["form"] in FED_INSIDE and part["hot_tab"] != "remove"
    return fed_apart(yoke) is True and part["hot_tab"] != "cannot tell" and not inside


def _made(part: Mapping[str, Any], yoke: Thing, ruled: Sequence[RulingData]) -> tuple[str | None, str, str]:
    """Whether such a device is made, why, and what to take instead."""
    built_in = part["form"] == _BUILT_IN or yoke.given.get("receptacle.gfci") == "this device"
    if built_in and _split_by_tab(part, yoke):
        return "no", f"the halves are fed apart, and {_NO_TAB}", _INSTEAD
    for ruling in ruled:
        if (ruling["ruling"], ruling["outcome"]) in ((_PART_EXISTS, "change the design"), (_TABS, "other device")):
            return "no", reasons(ruling), ruling["says"]
    for ruling in ruled:
        if ruling["ruling"] == _PART_EXISTS and ruling["outcome"] == "ask the maker":
            return "ask", reasons(ruling), ""
    if built_in and part["hot_tab"] == "cannot tell":
        return None, f"if the halves are fed apart, no such device is made: {_NO_TAB}", _INSTEAD
    exists = any(ruling["ruling"] == _PART_EXISTS and ruling["outcome"] == "exists" for ruling in ruled)
    return "yes" if exists else None, "", ""


# ---- the device in words ----------------------------------------


def _words(
    part: Mapping[str, Any],
    yoke: Thing,
    ruled: Sequence[RulingData],
    features: Sequence[Mapping[str, str]],
    form: str | None,
) -> str:
    """The device as one would order it."""
    configuration = part["configuration"]
    if configuration is None and form is None:
        first = "not known: configuration and kind of device are not given"
    else:
        first = " ".join([configuration or "configuration not given,", form or "device of a kind to be chosen"])
    asked = [each["what"] + (" not settled" if each["word"] == _NOT_SETTLED else "") for each in features]
    return ", ".join([first, *asked, _mark_words(part, yoke, ruled)])


_WHOLE = {
    "none": "unmarked",
    "both": "marked as controlled on both halves",
    "all": "marked as controlled on all contact devices",
    "the one": "marked as controlled",
}


def _mark_words(part: Mapping[str, Any], yoke: Thing, ruled: Sequence[RulingData]) -> str:
    """How the device is marked, with everything that keeps this from being sure."""
    mark, open_ = part["marked"], part["open"]
    if mark == "none" and open_:
        text = "marking not settled"
    elif mark in _WHOLE:
        text = _WHOLE[mark]
    else:
        text = f"marked as controlled on {mark}{' half' if mark in ('upper', 'lower') else ''}"
    text += f", not settled for {' and '.join(open_)}" if open_ and mark != "none" else ""
    marking = [ruling for ruling in ruled if ruling["ruling"] == "R03"]
    doubts = ["not checked in this edition"] if part["not_checked"] else []
    doubts += ["also held otherwise"] if any(ruling["also_held"] for ruling in marking) else []
    doubts += [] if yoke.list_of("contacts")[1] else ["the record may not list every half"]
    return f"{text} ({', '.join(doubts)})" if doubts else text
