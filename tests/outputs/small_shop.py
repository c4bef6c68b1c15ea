"""A small invented shop for tests of the outputs: its record, and rulings on it written by hand."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import ruling_data as data
from shipped_book import book
from yokebook.entities import Kind
from yokebook.front_door import read_project
from yokebook.graph import Graph
from yokebook.units import format_number

#: R1 is split behind a sensor. G1 is drawn as a ground-fault duplex with its halves fed apart, which nobody makes.
#: Q1 is fed by two circuits. S1 is a single whose supply nobody has looked up.
SHOP = """\
project: {name: Invented shop, place: demo/tamarisk/brindle-falls, dates: {permit application: 2024-10-15}}
complete: yes
spaces:
  - id: shop
    name: shop floor
    yokes:
      - id: R1
        location: north wall
        configuration: 5-20R
        device_type: duplex
        contacts:
          - {id: upper, position: upper, supply: controlled, circuit: P/1, load: plotter, controls: [C1]}
          - {id: lower, position: lower, supply: always on, circuit: P/1, load: none, controls: []}
      - id: G1
        location: at the sink
        configuration: 5-20R
        device_type: GFCI duplex
        contacts:
          - {id: upper, position: upper, supply: controlled, circuit: P/1, load: refrigerator, controls: [C1]}
          - {id: lower, position: lower, supply: always on, circuit: P/1, load: none, controls: []}
  - id: store
    name: store
    yokes:
      - id: Q1
        location: by the door
        configuration: 5-15R
        device_type: duplex
        contacts:
          - {id: upper, position: upper, supply: always on, circuit: P/1, load: none, controls: []}
          - {id: lower, position: lower, supply: always on, circuit: P/3, load: none, controls: []}
      - id: S1
        location: at the desk
        configuration: 5-15R
        device_type: single
        contacts:
          - {id: only, position: only, circuit: P/3}
controls:
  - {id: C1, name: shop sensor, kind: ceiling sensor and relay, turns_off_by: presence, off_delay_min: 15 min, amps: 15,
     wired_loads: []}
circuits:
  - {id: P/1, name: shop, breaker_amps: 20, volts: 120}
  - {id: P/3, name: desk, breaker_amps: 15, volts: 120}
loads:
  - {id: plotter, kind: office machine, power_w: 1500 W}
  - {id: refrigerator, kind: refrigeration}
"""

_FROM_MEMORY = {"checked": "memory"}

#: What the schedule is told to keep off controlled halves.
KEEP_OFF = (
    {"kind": "security", "says": "security equipment", "word": "ask the authority", "ruling": "R50"} | _FROM_MEMORY,
    {"kind": "refrigeration", "says": "refrigerator", "word": "move to always-on", "ruling": "R51", "checked": "seen"},
)


def shop(text: str = SHOP) -> Graph:
    return read_project(text, book(), "shop.yaml")


def of(graph: Graph, question: str, number: str, path: str, kind: Kind, **more: Any) -> dict[str, Any]:
    """A ruling on one thing of the record, with the label and room that it has there."""
    thing = next(thing for thing in graph.things[kind] if thing.id == path)
    rooms = {"shop": "shop floor", "store": "store"}
    room = rooms.get(path.partition("/")[0], "shop floor" if kind == "control" else "")
    return data.ruling(question, number, data.subject(path, kind, thing.label), room=room, **more)


def figure(calculation: str, subject: str, says: str, exact: int | None, unit: str) -> dict[str, Any]:
    value = format_number(Fraction(exact), unit) if exact is not None else f"over 0 {unit}"
    more = {"subject": subject, "exact": None if exact is None else str(exact), "unit": unit}
    return data.figure(calculation, says, value, "") | more


MEMORY = {"mark": "memory", "because": [{"what": "rating#short", "mark": "memory", "source": "memory"}]}


def rating_of_c1(graph: Graph, **more: Any) -> dict[str, Any]:
    """The sensor is rated 15 A and its circuit's breaker is 20 A: too small, from memory."""
    figures = [
        figure("control.circuit_breaker", "C1", "the largest breaker of its circuits", 20, "A"),
        figure("control.breaker_permitted", "C1", "the largest breaker allowed", 20, "A"),
        figure("receptacle.amps", "shop/R1", "the receptacle's rating", 20, "A"),
    ]
    settled = {"outcome": "not satisfied", "says": "it is too small", "against": True, "checked": MEMORY}
    return of(graph, "switch.rating", "R12", "C1", "control", **{"figures": figures, **settled, **more})


def marking(graph: Graph) -> list[dict[str, Any]]:
    """Rulings on marks: upper halves of R1 and G1 are marked, Q1 is not, of S1 it cannot be told."""
    found = []
    for path, mark in (("shop/R1", "upper"), ("shop/G1", "upper"), ("store/Q1", "")):
        for half in ("upper", "lower"):
            about = (f"{path}/{half}", "contact")
            required = half == mark
            word = "required" if required else "not required"
            says = "it must be marked as controlled" if required else "no mark is required"
            found.append(of(graph, "marking.required", "R03", *about, outcome=word, says=says))
            form = "symbol and word" if required else "no mark"
            found.append(of(graph, "marking.form", "R06", *about, outcome=form, idle=not required))
            place = "face" if required else "no mark"
            found.append(of(graph, "marking.place", "R07", *about, outcome=place, idle=not required))
    possible = ["not required", "required"]
    about = ("store/S1/only", "contact")
    found.append(of(graph, "marking.required", "R03", *about, status="cannot tell", possible=possible, standing=[]))
    return found


def everything(graph: Graph) -> list[dict[str, Any]]:
    """Rulings of all numbers that the schedule reads."""
    refrigerator = ("shop/G1/upper", "contact")
    tie = {"outcome": "not satisfied", "says": "no single throw opens both", "against": True}
    return [
        *marking(graph),
        of(graph, "control.permitted", "R11", "C1", "control", outcome="permitted", says="it may feed a receptacle"),
        rating_of_c1(graph),
        of(graph, "yoke.disconnect", "R30", "shop/R1", "yoke", outcome="does not apply", idle=True, checked=MEMORY),
        of(graph, "yoke.disconnect", "R30", "store/Q1", "yoke", **tie),
        of(graph, "protection.tamper-resistant", "R41", "shop/R1", "yoke", outcome="required", says="it is listed"),
        of(graph, "protection.ground-fault", "R43", "shop/G1", "yoke", outcome="required", says="it is at the sink"),
        of(graph, "load.always-on", "R51", *refrigerator, outcome="move to always-on", says="move it", against=True),
    ]
