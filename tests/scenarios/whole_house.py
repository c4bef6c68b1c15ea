"""The invented whole building of the demo: its files, the law that each ruling is asked under, and what it should say.

Every expected word below follows from the clause and the facts in the files; the arithmetic stands beside it.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import yokebook_adapters

DEMO = Path(yokebook_adapters.__file__).parent / "demo"
PLAN = DEMO / "tamarisk-learning-house.yaml"
LATER = DEMO / "tamarisk-learning-house-later.yaml"
FOUND = DEMO / "tamarisk-learning-house-later-found.yaml"

#: Who asks: the City on the plan or on the later work; on the plan also the County, the workplace rules, and a state's
#: energy code by its edition alone.
CITY_ON_PLAN, CITY_ON_LATER, COUNTY_ON_PLAN, AT_WORK, STATE = "plan", "later", "county", "work", "state"
#: What `--edition` takes.
EDITIONS = {AT_WORK: ("osha-1910", "2005"), STATE: ("ca-energy", "2022")}


#: A thing and the word for it, question by question.
Words = Mapping[str, Mapping[str, str]]
CANNOT, DIFFER = "cannot tell", "readings differ"

#: The mark (electrical code 406.3(F) with the City's ordinance 1, 2 and 4).
MARKS: Words = {
    # R01: a hand on a switch is none; nobody there, a clock, a count-down, a card are. The counter: not known.
    "control.acts": {
        "S1": "manual",
        "BD1": "manual",
        "C1": "automatic",
        "K2": "automatic",
        "T1": "automatic",
        "K3": "automatic",
        "K1": CANNOT,
    },
    # R02: straight blades of 15 and 20 A, 125 V; not a locking one.
    "marking.scope": {"living/R1": "in scope", "office/P1": "in scope", "shop/W1": "out of scope"},
    # R03: whatever anything switches (ordinance 1), but for a dwelling's lamp on the wall switch that lights the room;
    # a sensor is no such switch (ordinance 4); the exception is for dwellings, so not for the guest room.
    "marking.required": {
        "living/R1/upper": "not required",
        "living/R1/lower": "not required",
        "bedroom/R1/upper": "required",
        "office/P1/only": "required",
        "guest-2/R1/upper": "required",
        "break/R1/upper": "required",
        "shop/W1/only": "not required",
    },
    "marking.lighting-exception": {  # R04
        "living/R1/upper": "excused",
        "living/R1/lower": "not needed",
        "bedroom/R1/upper": "not available",
        "guest-2/R1/upper": "not available",
    },
    "marking.form": {"copy/R1/upper": "symbol and word", "copy/R1/lower": "no mark"},  # R06
    "marking.place": {"copy/R1/upper": "face", "living/R1/upper": "no mark"},  # R07
    "ordinary.permitted": {  # R08
        "living/R1/upper": "permitted",
        "living/R1/lower": "does not apply",
        "office/P1/only": "not permitted",
    },
    # R60: on the face, symbol and word. No mark at the plotter, one on the plate, one where nothing switches.
    "marking.satisfied": {
        "office/R1/upper": "satisfied",
        "office/P1/only": "not satisfied",
        "copy/R2/upper": "not satisfied",
        "open/F2/upper": "marked but not controlled",
    },
    "marking.existing": {"office/R1/upper": "as new", "office/R1/lower": "does not apply"},  # R49
    # R22: ordinance 2, upright split duplexes: the upper half.
    "which-half.controlled": {"office/R1": "upper", "study/R1": "either half"},
    "which-half.satisfied": {"office/R1": "satisfied", "lobby/R2": "not satisfied"},
}

#: Ratings and loads.
RATINGS: Words = {
    # R11: the dimmer is not listed for receptacles; timer and sensor are.
    "control.permitted": {"BD1": "not permitted", "T1": "permitted", "BS1": "permitted", "S2": "permitted"},
    # R12: C1 20 A, breaker 20 A. C2 1,800 / 120 = 15 A, breaker 20 A. S6 15 A for two receptacles on 20 A. S1 15 A for
    # half a duplex of 15 A. The plotter is alone on its circuit. T1 15 A: the breaker is 15 A, the largest that a 15 A
    # duplex may sit on is 20 A.
    "control.rating.cord-and-plug": {
        "C1": "satisfied",
        "C2": "not satisfied",
        "S6": "not satisfied",
        "S1": "satisfied",
        "S2": "does not apply",
        "T1": DIFFER,
    },
    # R13: C2 1,440 + 600 = 2,040 W > 1,800 W. WR1 (1,560 + 420) / 120 = 16.5 A <= 20 A. S6 1,800 / 0.9 / 120 = 16.67 A.
    "control.load": {"C2": "not satisfied", "WR1": "satisfied", "S6": "not satisfied", "S1": "satisfied"},
    # R40: WR1 1 + 1/2 = 1 1/2 hp <= 2 hp. S6 names none; 1 1/2 hp takes 20 A at 115 V > 80 % of 15 A = 12 A.
    "control.horsepower": {"WR1": "satisfied", "S6": "not satisfied", "S1": "does not apply"},
    # R30: the counter's circuits are tied, the reception's are not.
    "yoke.disconnect": {"kitchen/K1": "satisfied", "lobby/R1": "not satisfied", "office/R1": "does not apply"},
    # R32: 15 A alone on 20 A; 20 A alone on 20 A.
    "receptacle.single-rating": {
        "kitchen/K2/only": "not satisfied",
        "office/P1/only": "satisfied",
        "office/R1/upper": "does not apply",
    },
    # R33: 15 A on 20 A goes; 20 A on 30 A does not.
    "receptacle.circuit-rating": {"tutor/R2/upper": "satisfied", "shop/W1/only": "not satisfied"},
    # R34: 1,500 / 120 = 12.5 A > 12 A on 15 A. 1,440 / 120 = 12 A <= 16 A on 20 A. The planer 16.67 A > 16 A.
    "receptacle.plug-load": {
        "tutor/R2/upper": "not satisfied",
        "copy/R1/upper": "satisfied",
        "shop/W3/upper": "not satisfied",
    },
    # R35: 80 % of 15 A = 12 A < 12.5 A; 80 % of 20 A = 16 A >= 12.5 A; the plotter's circuit is its own.
    "circuit.portable-load": {
        "guest-2/R1/lower": "not satisfied",
        "tutor/R2/upper": "satisfied",
        "office/P1/only": "does not apply",
    },
    # R37: (1,440 + 600 + 150) / 120 = 18.25 A. Cart for hours: (360 + 1,920 x 1.25) / 120 = 23 A > 20 A.
    "circuit.load": {"LP-7": "satisfied", "LP-13": "not satisfied"},
    # R39: 1 hp on a 1 hp mark; 1 1/2 hp on it; what the locking one is marked for was not read.
    "receptacle.horsepower": {
        "shop/W2/upper": "satisfied",
        "shop/W3/upper": "not satisfied",
        "shop/W1/only": CANNOT,
        "office/R1/lower": "does not apply",
    },
    # R50: a battery lamp unit; the essential branch.
    "load.emergency": {
        "lobby/R2/lower": "not permitted",
        "exam/E3/only": "ask the authority",
        "office/R1/upper": "no concern",
    },
    "load.always-on": {  # R51: refrigerator, breathing machine, vaccines
        "break/R2/upper": "move to always-on",
        "guest-1/R2/upper": "move to always-on",
        "exam/E3/only": "move to always-on",
        "kitchen/K2/only": "no concern",
    },
}

#: The City's energy code, 102 to 107, and its ordinances; counted by contact device.
ENERGY: Words = {
    "share.listed": {"office": "listed", "open": "listed", "lobby": "not listed", "exam": "not listed"},  # R19
    # R18: director 2 of 5 where 3 are needed; tutor 2 of 3 (one exempt) and 2 needed; copy 2 of 4; open 3 of 6; class 2
    # of 4; break at most 2 of 5 whatever the counter's control is.
    "share.controlled": {
        "office": "not satisfied",
        "tutor": "satisfied",
        "copy": "satisfied",
        "open": "satisfied",
        "class": "satisfied",
        "break": "not satisfied",
        "lobby": "does not apply",
    },
    "share.exempt": {"tutor/R2/lower": "exempt", "tutor/R2/upper": "not exempt"},  # R20
    "share.counts": {"tutor/R2/lower": "left out", "tutor/R2/upper": "counts"},
    "control.method": {"C1": "accepted", "S2": "not accepted", "K1": CANNOT},
    # R21: rooms over 200 sq ft, 72 in. 108 - 24 = 84 in; 60 in; not measured in the break room.
    "distance.controlled": {"open": "not satisfied", "class": "satisfied", "copy": "does not apply", "break": CANNOT},
    "share.which-half": {"office/R1": "either", "lobby/R2": "does not apply"},  # R22
    "share.marked": {"office/R1/upper": "satisfied", "open/F3/first": CANNOT},  # R60: has it a colour of its own?
    # R23: 20 min. 30, 15, 20.
    "control.off-delay": {
        "C1": "not satisfied",
        "C4": "satisfied",
        "C6": "satisfied",
        "K2": "does not apply",
        "K1": CANNOT,
    },
    "control.schedule-zone": {"K2": "not satisfied", "CT1": "satisfied"},  # R24: 6,000 and 900 of 5,000 sq ft
    "control.override": {"K2": "satisfied", "CT1": "not satisfied"},  # R25: 120 and 240 of 120 min
    "share.strips": {"open/F3": "counts", "open/F2": "does not apply"},  # R27: the City makes no exception
    # R29: 25 min <= 30 min, 3 of 4 where 2 are needed; none of 4.
    "guest-room.controlled": {"guest-1": "satisfied", "guest-2": "not satisfied", "office": "does not apply"},
    # R59: passed, failed, not done, and not known.
    "control.function-test": {"C1": "satisfied", "C2": "not satisfied", "CT1": "not satisfied", "C4": CANNOT},
}

#: Light and walls (210.70, 210.52).
ROOMS: Words = {
    # R15: a battery that leaves things as they were but warns: not as printed, yes as amended.
    "lighting.met": {"living": "satisfied", "bedroom": "satisfied", "kitchen": "does not apply", "guest-2": DIFFER},
    "lighting.wall-control": {  # listed, on the wall at an entrance; the timer in the study is elsewhere
        "S1": "accepted",
        "BS1": "accepted",
        "T1": "not accepted",
        "GS1": DIFFER,
        "K1": CANNOT,
    },
    "lighting.sensor": {"BS1": "as the switch", "S1": "does not apply"},  # R16
    # R17: the lamp's half stands in for the light; a luminaire lights the study, and two published readings differ.
    # 210.52 is on dwellings: the office's halves, switched or not, are not asked about.
    "spacing.counts": {
        "living/R1/upper": "left out",
        "living/R1/lower": "counts",
        "study/R1/upper": DIFFER,
        "office/R1/upper": "does not apply",
        "open/F3/first": "does not apply",
    },
    # 72 in each way: 60 covers 0 to 132, 150 covers 78 to 222 of 240; 72 covers 0 to 144 of 144.
    "spacing.wall": {"living/long": "not satisfied", "living/short": "satisfied", "class/west": "does not apply"},
}

#: Protection (406.9, 406.12, 210.8, 210.12).
PROTECTION: Words = {
    "protection.tamper-resistant-place": {"class": "listed", "guest-1": "listed", "office": "not listed"},  # R41
    "protection.tamper-resistant": {
        "living/R1": "required",
        "kitchen/K2": "not required",  # the refrigerator's own
        "class/R2": "required",
        "shop/W2": "not required",
    },
    "protection.tamper-resistant.satisfied": {
        "living/R1": "satisfied",
        "living/R3": CANNOT,
        "class/R2": "not satisfied",
        "guest-2/R2": "not satisfied",
        "office/R1": "does not apply",
    },
    "protection.weather-resistant": {"porch/R1": "required", "shop/W2": "not required"},  # R42
    "protection.weather-resistant.satisfied": {"porch/R1": "satisfied", "porch/R2": "not satisfied"},
    "protection.weather-cover": {"porch/R1": "in use, extra duty", "porch/R2": "closed", "office/R1": "none"},
    "protection.weather-cover.satisfied": {"porch/R1": "not satisfied", "porch/R2": "satisfied"},
    "protection.ground-fault-scope": {"kitchen/K2": "in scope", "shop/W2": "in scope"},
    # R43: all of a kitchen; within 72 in of a sink, but not what serves a patient's bed; food is prepared in the break
    # room; outdoors. The refrigerator's breaker cannot be reached; two were not looked at.
    "protection.ground-fault": {
        "kitchen/K2": "required",
        "bath/B1": "required",
        "break/R2": "required",
        "exam/E1": "not required",
        "exam/E2": "required",
        "porch/R1": "required",
        "office/R1": "not required",
    },
    "protection.ground-fault.satisfied": {
        "kitchen/K1": "satisfied",
        "kitchen/K2": "not satisfied",
        "bath/B1": "satisfied",
        "break/R2": "not satisfied",
        "break/R3": CANNOT,
        "exam/E2": "satisfied",
        "porch/R2": CANNOT,
    },
    "protection.arc-fault-place": {"living": "listed", "guest-1": "listed", "bath": "not listed", "shop": "not listed"},
    # R44: nothing on the bedroom's circuit; on a new circuit a first outlet alone is too late.
    "protection.arc-fault": {
        "living/R1/upper": "required",
        "bedroom/R1/upper": "required",
        "bath/B1/upper": "not required",
    },
    "protection.arc-fault.satisfied": {
        "living/R1/upper": "satisfied",
        "bedroom/R1/upper": "not satisfied",
        "guest-1/R1/upper": "satisfied",
        "guest-2/R1/upper": "not satisfied",
    },
}

#: Wiring, listing and what is made.
WIRING: Words = {
    "control.dimmer": {"BD1": "not permitted", "S1": "does not apply"},  # R14
    # R31: shared neutral, joined in the box; two neutrals joined by a tab; no tab to break.
    "yoke.tabs": {
        "kitchen/K1": "in order",
        "office/R1": "in order",
        "lobby/R1": "break both tabs",
        "break/R1": "other device",
        "office/P1": "does not apply",
    },
    # R36: 1,320 / 120 = 11 A > 50 % of 20 A = 10 A; a 30 A circuit has no such share.
    "circuit.fixed-load": {"LP-17": "not satisfied", "LP-7": "does not apply", "WS-3": "does not apply"},
    # R38: two devices, 2 x 180 / 120 = 3 A of 20 A; dwellings and guest rooms count by area; the plotter is alone.
    "circuit.receptacle-load": {
        "LP-3": "room left",
        "HP-1": "does not apply",
        "GR-1": "does not apply",
        "LP-1": "does not apply",
    },
    "control.neutral": {"S1": "not required", "C2": "required by the device"},  # R45
    "control.ground-return": {"BS1": "not permitted", "S1": "does not apply"},  # R46: new work, not made for retrofit
    "control.low-voltage": {  # R54
        "C1": "satisfied",
        "C4": "satisfied",
        "C5": "barrier or reclassify",
        "S1": "does not apply",
    },
    # R55: no mark; not listed for receptacles; plastic in an air space.
    "control.listed-for-place": {
        "C1": "satisfied",
        "C4": "ask the authority",
        "BD1": "not satisfied",
        "C5": "not satisfied",
        "K1": CANNOT,
    },
    "yoke.patient-care": {  # R53
        "exam/E1": "ask the authority",
        "exam/E2": "not permitted",
        "exam/E3": "does not apply",
        "office/R1": "does not apply",
    },
    "yoke.part-exists": {  # R58
        "office/R1": "exists",
        "open/F1": "ask the maker",
        "break/R1": "change the design",
        "living/R1": "does not apply",
    },
    "replacement.device": {"office/R1": "does not apply"},  # R47: new work
}

#: The later work: 406.4(D), each item, and what is left of the old mark.
REPLACED: Words = {
    "replacement.device": {  # R47
        "meeting/R1": "same again",
        "meeting/R2": "ordinary",
        "parlour/R1": "does not apply",
    },
    "marking.existing": {"meeting/R1/upper": "as new", "meeting/R2/upper": "does not apply"},  # R49
    # R48: no ground in the parlour's boxes; one without a ground slot need not be tamper-resistant there.
    "protection.replacement.tamper-resistant": {
        "parlour/R1": "required",
        "parlour/R3": "not required",
        "meeting/R1": "not required",
    },
    "protection.replacement.weather-resistant": {"step/R1": "required", "parlour/R1": "not required"},
    "protection.replacement.ground-fault": {"step/R1": "required", "parlour/R1": "not required"},
    "protection.replacement.arc-fault": {"parlour/R1": "required", "step/R1": "not required"},
    "protection.replacement.grounding": {"meeting/R1": "grounding", "parlour/R1": "as ungrounded"},
    "protection.replacement.grounding.satisfied": {
        "meeting/R1": "satisfied",
        "parlour/R1": "satisfied",
        "parlour/R2": "not satisfied",
        "parlour/R3": "satisfied",
    },
    "protection.arc-fault.satisfied": {"parlour/R1/upper": "not satisfied"},
    # R46: made for replacement, an old box, 2 of 5 on the circuit and 6 of 25 on the feeder.
    "control.ground-return": {"G1": "permitted as a replacement", "M1": "does not apply"},
    "control.off-delay": {"M1": "satisfied"},  # R23: 20 of 20 min
    "control.function-test": {"M1": "satisfied", "G1": "does not apply"},  # R59: none is asked in a dwelling
}

#: What only the County asks, on the 2020 edition and its own energy code.
BY_THE_COUNTY: Words = {
    # R26: a quarter of 5, rounded up, is 2; one is controlled.
    "furniture.feeders": {
        "open": "not satisfied",
        "office": CANNOT,
        "copy": "does not apply",
        "lobby": "does not apply",
    },
    "share.spread": {"copy": "spread", "office": "for the inspector", "lobby": "does not apply"},  # R28
    "share.listed": {"open": "listed by its workstations"},
    "share.controlled": {"open": "rule each workstation", "office": "not satisfied"},
    "share.strips": {"open/F3": "does not count"},  # R27: the County leaves plug-in devices out
    "marking.required": {"office/P1/only": "not required", "office/R1/upper": "required"},  # R10: no ordinance there
}

#: R52: the workshop as a place of work; the flat is none.
ON_MACHINES: Words = {
    "machine.restart": {
        "shop/W2/upper": "hazard",
        "shop/W2/lower": "no hazard",
        "shop/W3/upper": "no hazard",
        "shop/W1/only": "judge the hazard",
        "living/R1/upper": "does not apply",
        "office/P1/only": "does not apply",
    }
}

#: R18 as a state has it: beside the controlled receptacles some stay on, in office areas, copy rooms and lobbies.
BY_A_STATE: Words = {
    "uncontrolled.kept": {"copy": "satisfied", "lobby": "satisfied", "shop": "does not apply"},
}

EXPECTED: tuple[tuple[str, Words], ...] = (
    (CITY_ON_PLAN, MARKS),
    (CITY_ON_PLAN, RATINGS),
    (CITY_ON_PLAN, ENERGY),
    (CITY_ON_PLAN, ROOMS),
    (CITY_ON_PLAN, PROTECTION),
    (CITY_ON_PLAN, WIRING),
    (CITY_ON_LATER, REPLACED),
    (COUNTY_ON_PLAN, BY_THE_COUNTY),
    (AT_WORK, ON_MACHINES),
    (STATE, BY_A_STATE),
)
