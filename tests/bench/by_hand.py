"""What a person would write for the 2014 marking tables over columns: as a CASE in SQL, and as a select in numpy.

Both have an arm for each thing not known before it is tested. They give the deciding rules, `-` where none fires, and
nothing where they cannot say: what other people hold of it included.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any

_IN_SCOPE = "\"receptacle.configuration\" IN ('1-15R', '5-15R', '5-20R')"
_BY_ITSELF = """"control.turns_off_by" IN ('presence', 'schedule', 'signal', 'load')
        AND NOT ("control.turns_off_by" = 'presence' AND ("control.kind" IS NULL OR ("control.kind" = 'wall-box sensor'
            AND ("control.turns_on_by" IS NULL OR "control.turns_on_by" = 'person'))))
        AND NOT ("control.turns_off_by" = 'signal'
            AND ("control.kind" IS NULL OR "control.kind" = 'demand response'))"""
_NO_TIMER = """"control.turns_off_by" <> 'schedule' OR ("control.kind" IS NOT NULL AND ("control.kind" NOT IN
            ('count-down timer', 'program timer') OR "control.purpose" = 'energy or automation'))"""
AUTOMATIC, BOTH = "marking.required#automatic", "marking.required#automatic, marking.required#built-in"
CASE = f"""CASE
    WHEN "contact.supply" IS NULL THEN NULL
    WHEN "contact.supply" = 'always on' THEN '-'
    WHEN "control.turns_off_by" IS NULL THEN NULL
    WHEN "space.required_lighting_outlet" IS NULL THEN NULL
    WHEN "space.required_lighting_outlet" = 'met by switched receptacle' THEN NULL
    WHEN "receptacle.configuration" IS NULL THEN NULL
    WHEN NOT {_IN_SCOPE} THEN '-'
    WHEN "receptacle.built_in_control" IS NULL THEN NULL
    WHEN {_BY_ITSELF} AND ({_NO_TIMER}) THEN
        CASE WHEN "receptacle.built_in_control" THEN '{BOTH}'
             ELSE '{AUTOMATIC}' END
    END"""

#: What the numbers say that the select in numpy gives; 0 where it cannot say.
SAID = (None, "-", AUTOMATIC, BOTH)

#: The columns that both look at.
LOOKED_AT = (
    "contact.supply", "control.turns_off_by", "control.kind", "control.turns_on_by", "control.purpose",
    "space.required_lighting_outlet", "receptacle.configuration", "receptacle.built_in_control",
)  # fmt: skip

#: For each column the words that stand in it; in its array is a word's place among them, from 1, and 0 for nothing.
#: A yes or no has False, True.
Words = Mapping[str, list[Any]]


def with_numpy(words: Words) -> Callable[[Mapping[str, Any]], Any]:
    """What takes an array of small numbers for each column and gives one, which says what `SAID` does.

    Raises ImportError where numpy is not there.
    """
    numpy = import_module("numpy")

    def decide(columns: Mapping[str, Any]) -> Any:
        def missing(name: str) -> Any:
            return columns[name] == 0

        def among(name: str, *values: object) -> Any:
            places = [words[name].index(value) + 1 for value in values if value in words[name]]
            found = numpy.zeros(len(columns[name]), dtype=bool)
            for place in places:
                found |= columns[name] == place
            return found

        off, kind = "control.turns_off_by", "control.kind"
        as_switch = missing(kind) | (
            among(kind, "wall-box sensor")
            & (missing("control.turns_on_by") | among("control.turns_on_by", "person"))
        )
        on_request = missing(kind) | among(kind, "demand response")
        by_itself = (
            among(off, "presence", "schedule", "signal", "load")
            & ~(among(off, "presence") & as_switch)
            & ~(among(off, "signal") & on_request)
        )
        timer = among(kind, "count-down timer", "program timer") & ~among("control.purpose", "energy or automation")
        no_timer = ~among(off, "schedule") | ~(missing(kind) | timer)
        arms = [
            (missing("contact.supply"), 0),
            (among("contact.supply", "always on"), 1),
            (missing(off), 0),
            (missing("space.required_lighting_outlet"), 0),
            (among("space.required_lighting_outlet", "met by switched receptacle"), 0),
            (missing("receptacle.configuration"), 0),
            (~among("receptacle.configuration", "1-15R", "5-15R", "5-20R"), 1),
            (missing("receptacle.built_in_control"), 0),
            (by_itself & no_timer, 2 + among("receptacle.built_in_control", True)),
        ]
        return numpy.select([test for test, _ in arms], [said for _, said in arms], 0)

    return decide
