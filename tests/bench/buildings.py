"""Big invented buildings: the rooms of the demo house over and over, no two alike, from a seed.

In every copy lengths, powers and delays are other ones, now and then a fact is not given, a mark is missing or a device
has another one's configuration.
"""

from __future__ import annotations

import random
import re
from copy import deepcopy
from functools import cache
from pathlib import Path
from typing import Any

import yaml

from yokebook_adapters.command_line.session import demo_file

Data = dict[str, Any]

#: Facts that are left out now and then; none that others need in order to apply.
MAY_BE_MISSING = (
    *("mark_place", "mark_in_view", "height_in", "tamper_resistant", "isolated_ground", "usb", "designation"),
    *("off_delay_min", "purpose", "amps", "listed", "power_w", "continuous", "breaker_amps", "has_vessel"),
)
_LENGTH = re.compile(r"([0-9]+) (in|W|min)")


@cache
def _house() -> Data:
    path = Path(demo_file()).with_name("tamarisk-learning-house.yaml")
    house: Data = yaml.safe_load(path.read_text(encoding="utf-8"))
    return house


def building(devices: int, seed: int = 1) -> Data:
    """A project with at least so many receptacles, the last copy whole."""
    rng = random.Random(seed)
    project = dict(_house()["project"], dates={k: str(v) for k, v in _house()["project"]["dates"].items()})
    found: Data = {"project": project, "complete": True, "spaces": [], "controls": [], "circuits": [], "loads": []}
    count = 0
    for copy in range(devices):
        if count >= devices:
            break
        part = _copy(rng, f"{copy + 1}-")
        for name, things in part.items():
            found[name] += things
        count += sum(len(space["yokes"]) for space in part["spaces"])
    return found


def _copy(rng: random.Random, before: str) -> Data:
    """Every room, control, circuit and load once more, under other names and a little different."""
    part = {name: deepcopy(_house()[name]) for name in ("spaces", "controls", "circuits", "loads")}
    for name in ("controls", "circuits", "loads", "spaces"):
        for thing in part[name]:
            thing["id"] = before + thing["id"]
            _vary(rng, thing)
    for load in part["loads"]:
        if load.get("circuit", "none") != "none":
            load["circuit"] = before + load["circuit"]
    for control in part["controls"]:
        if control.get("wired_loads"):
            control["wired_loads"] = [before + load for load in control["wired_loads"]]
    for space in part["spaces"]:
        for yoke in space["yokes"]:
            _vary(rng, yoke)
            for contact in yoke["contacts"]:
                _vary(rng, contact)
                for key in ("circuit", "load"):
                    if contact.get(key, "none") != "none":
                        contact[key] = before + contact[key]
                contact["controls"] = [before + control for control in contact.get("controls", ())]
    return part


def _vary(rng: random.Random, thing: Data) -> None:
    for name, value in list(thing.items()):
        if name in MAY_BE_MISSING and rng.random() < 0.01:
            del thing[name]
        elif isinstance(value, str) and (number := _LENGTH.fullmatch(value)) and name != "position_in":
            size = int(number[1])
            thing[name] = f"{max(1, size * rng.choice((80, 90, 95, 100, 105, 110, 125)) // 100)} {number[2]}"
    if thing.get("configuration") in ("5-15R", "5-20R"):
        thing["configuration"] = rng.choice(("5-15R", "5-20R", "5-20R"))
