"""Receptacle marking: regions of facts with the outcome that the clause gives everywhere inside.

The regions are written from the clause as trade publications describe it, not from the tables: licence-renewal course
on 406.3(E), 2014 (sectionID=112.0) and 2017 (sectionID=304); IAEI Magazine, "Changes & Requirements for Receptacles,
2014 NEC"; EC&M, "NEC Requirements for Receptacles", 14 June 2023. The 2020 outcomes are from memory, like its rows.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from itertools import product

from shipped_book import rulebook
from yokebook import Code, Ruling

LETTER_E = {"2014": "406.3(E)", "2017": "406.3(E)", "2020": "406.3(E)"}
SECTION = {**LETTER_E, "2023": "406.3(F)"}
EXCEPTION = {edition: f"{section} Exception" for edition, section in SECTION.items()}
FIGURE = {"2014": "406.3(E) and its figure"}
READ = tuple(SECTION)  # the editions whose clause somebody described or remembers

BY_ITSELF = ("presence", "count-down", "schedule", "daylight", "signal", "load", "card removal", "loss of link")
IN_SCOPE = ("1-15R", "5-15R", "5-20R")
OUT_OF_SCOPE = ("5-30R", "5-50R", "6-15R", "6-20R", "7-15R", "7-20R", "14-20R", "L5-15R", "L5-20R", "L5-30R", "L6-20R")

Values = Mapping[str, tuple[object, ...]]


def points(box: Values) -> Iterator[dict[str, object]]:
    """Every record of a box of facts."""
    for values in product(*box.values()):
        yield dict(zip(box, values, strict=True))


@dataclass(frozen=True)
class Region:
    """A box of facts and what the clause says everywhere in it. `section` is that of the rule that decides."""

    name: str
    question: str
    outcome: str
    box: Values
    editions: tuple[str, ...] = READ
    section: Mapping[str, str] = field(default_factory=dict)  # empty: no rule fires
    also_held: bool = False  # argued readings may be printed beside the word

    def points(self) -> Iterator[dict[str, object]]:
        return points(self.box)


#: A half that something acting by itself controls, in a room where no receptacle stands in for a lighting outlet.
AUTOMATIC: Values = {
    "receptacle.configuration": ("5-15R", "5-20R"),
    "contact.supply": ("controlled",),
    "control.turns_off_by": BY_ITSELF,
    "space.required_lighting_outlet": ("none required", "met by luminaire"),
}
#: One such half, for the questions on the mark itself.
ONE_AUTOMATIC: Values = {
    "receptacle.configuration": ("5-20R",),
    "contact.supply": ("controlled",),
    "control.kind": ("time clock",),
    "control.turns_off_by": ("schedule",),
    "space.required_lighting_outlet": ("none required",),
}
#: A half on a plain wall switch.
MANUAL: Values = {
    "receptacle.configuration": IN_SCOPE,
    "receptacle.built_in_control": (False,),
    "contact.supply": ("controlled",),
    "contact.controls.complete": (True,),
    "control.turns_off_by": ("person",),
    "space.required_lighting_outlet": ("none required", "met by luminaire"),
}
#: What stands in for the lighting outlet of a dwelling's or guest room's room, on a wall switch.
STANDS_IN: Values = {
    **MANUAL,
    "control.kind": ("snap switch", "three-way switch"),
    "space.occupancy": ("dwelling", "guest room"),
    "space.required_lighting_outlet": ("met by switched receptacle",),
}
#: The same with a sensor in the switch's place.
SENSOR: Values = {
    "receptacle.configuration": IN_SCOPE,
    "contact.supply": ("controlled",),
    "contact.controls.complete": (True,),
    "control.kind": ("wall-box sensor",),
    "control.turns_off_by": ("presence",),
    "control.turns_on_by": ("presence",),
    "control.acts_as_wall_switch": (True,),
    "control.location": ("wall at entrance",),
    "space.occupancy": ("dwelling", "guest room"),
    "space.use": ("living room", "bedroom"),
    "space.required_lighting_outlet": ("met by switched receptacle",),
}
FULL_MARK: Values = {
    **ONE_AUTOMATIC,
    "contact.position": ("upper", "first"),
    "contact.mark": ("symbol and word",),
    "contact.mark_place": ("face",),
    "contact.mark_permanent": (True,),
    "contact.mark_shows_contact": (True,),
}
FROM_2017 = ("2017", "2020", "2023")
FROM_2017_SECTION = {edition: SECTION[edition] for edition in FROM_2017}

REGIONS = [
    # ---- R01
    Region("by hand", "control.acts", "manual", {"control.turns_off_by": ("person",)}, section=SECTION),
    Region(
        "by itself", "control.acts", "automatic", {"control.turns_off_by": BY_ITSELF}, section=SECTION, also_held=True
    ),
    Region(
        "by hand, from the kind alone",
        "control.acts",
        "manual",
        {"control.kind": ("snap switch", "three-way switch")},
        section=SECTION,
    ),
    Region(
        "by itself, from the kind alone",
        "control.acts",
        "automatic",
        {"control.kind": ("count-down timer", "time clock", "photo control", "load-sensing")},
        section=SECTION,
        also_held=True,
    ),
    # ---- R02: 125 V, 15 or 20 A, straight blade, and nothing on either side of these numbers
    Region("kinds covered", "marking.scope", "in scope", {"receptacle.configuration": IN_SCOPE}, section=SECTION),
    Region("kinds left out", "marking.scope", "out of scope", {"receptacle.configuration": OUT_OF_SCOPE}),
    Region(
        "numbers covered",
        "marking.scope",
        "in scope",
        {"receptacle.volts": (125,), "receptacle.amps": (15, 20), "receptacle.locking": (False,)},
        section=SECTION,
    ),
    Region("amperes beside", "marking.scope", "out of scope", {"receptacle.amps": (30, 50)}),
    Region("volts beside", "marking.scope", "out of scope", {"receptacle.volts": (250, 277)}),
    Region("locking", "marking.scope", "out of scope", {"receptacle.locking": (True,)}),
    # ---- R03
    Region("automatic", "marking.required", "required", AUTOMATIC, section=SECTION, also_held=True),
    Region(
        "automatic, exception not open outside dwellings and guest rooms",
        "marking.required",
        "required",
        {
            **ONE_AUTOMATIC,
            "space.required_lighting_outlet": ("met by switched receptacle",),
            "space.occupancy": ("office", "education", "health care", "mercantile", "industrial", "assembly", "other"),
        },
        section=SECTION,
        also_held=True,
    ),
    Region(
        "built in",
        "marking.required",
        "required",
        {
            "receptacle.configuration": IN_SCOPE,
            "receptacle.built_in_control": (True,),
            "contact.supply": ("controlled",),
            "space.required_lighting_outlet": ("none required", "met by luminaire"),
        },
        section=SECTION,
        also_held=True,
    ),
    Region("by hand only", "marking.required", "not required", MANUAL, also_held=True),
    Region("always on", "marking.required", "not required", {"contact.supply": ("always on",)}),
    Region(
        "out of scope",
        "marking.required",
        "not required",
        {
            "receptacle.configuration": OUT_OF_SCOPE,
            "contact.supply": ("controlled",),
            "control.turns_off_by": ("person", "presence", "schedule"),
            "space.required_lighting_outlet": ("none required",),
        },
    ),
    # ---- R04
    Region(
        "lamp on a wall switch",
        "marking.lighting-exception",
        "excused",
        {**STANDS_IN, "space.use": ("living room", "bedroom", "home office", "guest room")},
        section=EXCEPTION,
        also_held=True,
    ),
    Region(
        "kitchens and bathrooms have no such receptacle",
        "marking.lighting-exception",
        "not needed",
        {**STANDS_IN, "space.use": ("kitchen", "bathroom")},
        also_held=True,
    ),
    Region(
        "laundry areas before 2023",
        "marking.lighting-exception",
        "excused",
        {**STANDS_IN, "space.use": ("laundry",)},
        editions=("2014", "2017", "2020"),
        section=EXCEPTION,
        also_held=True,
    ),
    Region(
        "laundry areas from 2023",
        "marking.lighting-exception",
        "not needed",
        {**STANDS_IN, "space.use": ("laundry",)},
        editions=("2023",),
        also_held=True,
    ),
    Region("marked, so not available", "marking.lighting-exception", "not available", ONE_AUTOMATIC, section=EXCEPTION),
    # ---- R06, R07, R08
    Region("2014 form", "marking.form", "symbol", ONE_AUTOMATIC, editions=("2014",), section=FIGURE),
    Region("form from 2017", "marking.form", "symbol and word", ONE_AUTOMATIC, FROM_2017, section=FROM_2017_SECTION),
    Region("place from 2017", "marking.place", "face", ONE_AUTOMATIC, FROM_2017, section=FROM_2017_SECTION),
    Region(
        "place where the receptacle switches itself",
        "marking.place",
        "outlet or plate",
        {
            **MANUAL,
            "receptacle.built_in_control": (True,),
            "space.required_lighting_outlet": ("none required",),
        },
        FROM_2017,
        section=FROM_2017_SECTION,
        also_held=True,
    ),
    Region("marked part", "ordinary.permitted", "not permitted", ONE_AUTOMATIC, section=SECTION),
    Region("ordinary part", "ordinary.permitted", "permitted", MANUAL, section=SECTION, also_held=True),
    Region("no part", "ordinary.permitted", "does not apply", {"contact.supply": ("always on",)}),
    # ---- R60
    Region(
        "no mark", "marking.satisfied", "not satisfied", {**ONE_AUTOMATIC, "contact.mark": ("none",)}, section=SECTION
    ),
    Region(
        "2014: the symbol does, word or no word",
        "marking.satisfied",
        "satisfied",
        {**ONE_AUTOMATIC, "contact.mark": ("symbol", "symbol and word"), "contact.mark_place": ("face",)},
        editions=("2014",),
        section=SECTION,
    ),
    Region(
        "2014: the word alone does not",
        "marking.satisfied",
        "not satisfied",
        {**ONE_AUTOMATIC, "contact.mark": ("word",)},
        editions=("2014",),
        section=SECTION,
    ),
    Region("full mark", "marking.satisfied", "satisfied", FULL_MARK, FROM_2017, section=FROM_2017_SECTION),
    *(
        Region(
            f"full mark but {fact} {value}",
            "marking.satisfied",
            "not satisfied",
            {**FULL_MARK, fact: (value,)},
            FROM_2017,
            section=FROM_2017_SECTION,
        )
        for fact, value in (
            ("contact.mark", "symbol"),
            ("contact.mark", "word"),
            ("contact.mark_place", "plate"),
            ("contact.mark_place", "elsewhere"),
            ("contact.mark_permanent", False),
            ("contact.mark_shows_contact", False),
        )
    ),
    Region(
        "a single receptacle need not show which",
        "marking.satisfied",
        "satisfied",
        {**FULL_MARK, "contact.position": ("only",), "contact.mark_shows_contact": (False,)},
        FROM_2017,
        section=FROM_2017_SECTION,
    ),
    Region(
        "marked, always on",
        "marking.satisfied",
        "marked but not controlled",
        {"contact.supply": ("always on",), "contact.mark": ("symbol", "word", "symbol and word")},
        section=SECTION,
    ),
    # ---- R49
    Region(
        "put in now",
        "marking.existing",
        "as new",
        {**ONE_AUTOMATIC, "project.work_kind": ("new", "addition", "alteration", "replacement")},
        section=SECTION,
    ),
    Region(
        "nothing changed",
        "marking.existing",
        "existing accepted",
        {**ONE_AUTOMATIC, "project.work_kind": ("existing",)},
        section=dict.fromkeys(READ, "Annex H, 80.9(B)"),
    ),
    # ---- R22
    Region(
        "no half prescribed",
        "which-half.controlled",
        "either half",
        {"receptacle.mounting": ("upright", "sideways", "floor"), "receptacle.split": (True, False)},
    ),
]


@cache
def edition(name: str) -> Code:
    return rulebook().edition("nfpa-70", name)


def ruled(name: str, question: str, record: Mapping[str, object]) -> Ruling:
    """The ruling of one edition on a flat record."""
    return edition(name).rule(question, record)
