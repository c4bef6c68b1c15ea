"""The marking schedule as text and as CSV: the small shop's whole sheet, and cells that a spreadsheet cannot run."""

from __future__ import annotations

import csv
import io

import pytest

import ruling_data as data
from outputs.small_shop import KEEP_OFF, SHOP, everything, marking, shop
from shipped_book import book
from yokebook_adapters.marking_schedule import marking_schedule
from yokebook_adapters.marking_schedule_csv import COLUMNS, as_csv, safe_cell
from yokebook_adapters.marking_schedule_text import render_schedule

WHOLE = """\
MARKING SCHEDULE
Invented shop (shop.yaml)
City of Brindle Falls; permit application 2024-10-15
Electrical: National Electrical Code, 2023 edition, with BF-1

Shop floor
  R1, north wall
    Device: 5-20R duplex, tamper-resistant, marked as controlled on upper half
    Tabs: hot: remove (the halves are fed apart); neutral: keep (one circuit, one neutral)
    Upper: controlled by C1, circuit P/1, plugged in: plotter (office machine)
    Lower: always on, circuit P/1
    Mark: on upper; form: symbol and word; place: face
    Control C1 (shop sensor): ceiling sensor and relay; rated 15 A; needs at least 20 A; big enough
      for the circuit: not satisfied [R12]; may feed receptacles: permitted [R11]
    Circuit P/1: breaker 20 A, 120 V
    Wires: switched hot from C1, of P/1; hot that is always on, of P/1; neutral of P/1
    Do not plug in at upper: security, refrigeration
    Check: [ ] hot tab broken off; [ ] neutral tab left in; [ ] mark visible with the plate on; [ ]
      C1 takes the power away (set 15 min, found ____ min); [ ] photo no. ____
  G1, at the sink
    Device: 5-20R duplex, marked as controlled on upper half
    NOT MADE as given: The halves are fed apart, and a device with ground-fault protection built in
      has no tab to break.
    Take: A duplex with break-off tabs, with the ground-fault protection in the breaker or in a
      device upstream.
    Protection: ground-fault protection required, by breaker or upstream device
    Tabs: hot: remove (the halves are fed apart); neutral: keep (one circuit, one neutral)
    Upper: controlled by C1, circuit P/1, plugged in: refrigerator (refrigeration)
    Lower: always on, circuit P/1
    Mark: on upper; form: symbol and word; place: face
    Control C1 (shop sensor): ceiling sensor and relay; rated 15 A; needs at least 20 A; big enough
      for the circuit: not satisfied [R12]; may feed receptacles: permitted [R11]
    Circuit P/1: breaker 20 A, 120 V
    Wires: switched hot from C1, of P/1; hot that is always on, of P/1; neutral of P/1
    Do not plug in at upper: security, refrigeration
    Move: refrigerator at upper: move to always-on [R51]
    Against: R51 G1 upper, at the sink, shop floor: move to always-on
    Check: [ ] hot tab broken off; [ ] neutral tab left in; [ ] mark visible with the plate on; [ ]
      C1 takes the power away (set 15 min, found ____ min); [ ] photo no. ____

Store
  Q1, by the door
    Device: 5-15R duplex, unmarked
    Tabs: hot: remove (the halves are fed apart); neutral: cannot tell (two circuits: each needs its
      own neutral here unless they share one)
    Upper: always on, circuit P/1
    Lower: always on, circuit P/3
    Mark: none
    Circuit P/1: breaker 20 A, 120 V
    Circuit P/3: breaker 15 A, 120 V
    One throw for all circuits: not satisfied [R30]
    Wires: hot that is always on, of P/1; hot that is always on, of P/3; neutrals: not given whether
      the circuits share one
    Against: R30 Q1, by the door, store: not satisfied
    Check: [ ] hot tab broken off; [ ] photo no. ____
  S1, at the desk
    Device: 5-15R single, marking not settled
    Tabs: hot: none on this device (one contact device has nothing to part); neutral: none on this
      device (one contact device has nothing to part)
    Fed: not given whether it is switched, circuit P/3, plugged in: not given
    Mark: none; not settled for only
    Circuit P/3: breaker 15 A, 120 V
    Wires: only: not given whether its hot is switched; neutral of P/3
    Not sure: S1, at the desk, store: cannot tell, could be not required or required [R03] Must this
      receptacle be marked?
    Check: [ ] photo no. ____

TO ORDER, BY PART TYPE (4 devices, no spares in it)
  5-15R duplex, unmarked: 1; hot tab to break on 1
    for Q1, by the door, store
  5-15R single, marking not settled: 1
    for S1, at the desk, store
  5-20R duplex, marked as controlled on upper half: 1; hot tab to break on 1, 1 instead of a device
    that is not made
    for G1, at the sink, shop floor
  5-20R duplex, tamper-resistant, marked as controlled on upper half: 1; hot tab to break on 1
    for R1, north wall, shop floor
  The mark is made by the maker of the device. A sticker only where the authority accepts it in
    writing (common practice, no source).

CONTROLS, BY KIND AND RATING
  ceiling sensor and relay, at least 20 A, may feed receptacles: permitted: 1 (shop sensor)

CIRCUITS THAT SHARE A YOKE (one throw has to open them all)
  P/1 and P/3, Q1, by the door, store: not satisfied [R30]

DO NOT PLUG IN WHERE A CONTROL TAKES THE POWER AWAY
  security (security equipment): ask the authority; rests on memory [R50]
  refrigeration (refrigerator): move to always-on [R51]

ON THE LINES ABOVE, FROM MEMORY
  shop sensor: not satisfied - it is too small; rests on memory [R12] Must this receptacle be
    marked?

CAUTIONS
  - Line voltage can kill.
"""


def text(width: int = 100, source: str = SHOP, **more: object) -> str:
    graph = shop(source)
    rulings = everything(graph)
    found = marking_schedule(rulings, [graph], book(), KEEP_OFF)
    return render_schedule(data.report(*rulings, **more), found, width)


def test_the_whole_sheet():
    assert text() == WHOLE


def test_narrow_screens_and_ascii():
    for width in (50, 80):
        assert max(map(len, text(width).split("\n"))) <= width
        assert text(width).isascii()


def test_what_was_refused_is_listed():
    assert "REFUSED (1 fault of the input" in text(refused=["shop.yaml:3:5: `Ampere` is not a unit"])


def test_no_ruling_on_marks_is_said():
    found = marking_schedule([], [shop()], book(), KEEP_OFF)
    assert "No line: no document in force rules on the mark" in render_schedule(data.report(), found)


def test_law_that_names_no_loads_is_said():
    graph = shop()
    found = marking_schedule(marking(graph), [graph], book(), ())
    assert "No law in force here names loads to keep off (R50, R51)." in render_schedule(data.report(), found)


class TestCsv:
    def rows(self, source: str = SHOP) -> tuple[list[dict[str, str]], int]:
        graph = shop(source)
        found = marking_schedule(everything(graph), [graph], book(), KEEP_OFF)
        written, changed = as_csv(found["lines"])
        return list(csv.DictReader(io.StringIO(written))), changed

    def test_a_row_for_each_yoke_under_one_header(self):
        rows, changed = self.rows()
        assert [row["path"] for row in rows] == ["shop/R1", "shop/G1", "store/Q1", "store/S1"]
        assert all(tuple(row) == COLUMNS for row in rows)
        assert changed == 0

    def test_cells(self):
        first, second, third, last = self.rows()[0]
        assert (first["room"], first["tag"]) == ("shop floor", "R1, north wall")
        assert first["device to buy"] == "5-20R duplex, tamper-resistant, marked as controlled on upper half"
        assert first["upper half"] == "controlled by C1, circuit P/1, plugged in: plotter (office machine)"
        assert first["lower half"] == "always on, circuit P/1"
        assert first["mark"] == "on upper; form: symbol and word; place: face"
        assert first["do not plug in"] == "at upper: security, refrigeration"
        assert first["not sure"] == (
            "shop sensor: not satisfied - it is too small; rests on memory [R12] Must this receptacle be marked?"
        )
        assert second["made"].startswith("NOT MADE as given: The halves are fed apart")
        assert second["move"] == "refrigerator at upper: move to always-on [R51]"
        assert (third["circuit"], third["one throw"]) == (
            "P/1: breaker 20 A, 120 V | P/3: breaker 15 A, 120 V",
            "not satisfied [R30]",
        )
        assert last["other contact devices"] == (
            "only: not given whether it is switched, circuit P/3, plugged in: not given"
        )
        assert last["upper half"] == ""

    @pytest.mark.parametrize(
        "start", ["=", "+", "-", "@", "\t", "\r", "\n", "\x00", "\x85", "  =", "\N{FULLWIDTH EQUALS SIGN}"]
    )
    def test_a_cell_that_a_spreadsheet_could_run_gets_an_apostrophe(self, start: str):
        assert safe_cell(f"{start}cmd") == f"'{start}cmd"

    @pytest.mark.parametrize("cell", ["", "R1", "5-20R duplex", "at -40", "'=1", " R1", "20 A"])
    def test_other_cells_stay(self, cell: str):
        assert safe_cell(cell) == cell

    def test_names_from_the_project_are_made_safe_and_counted(self):
        rows, changed = self.rows(SHOP.replace("name: shop floor", 'name: "=SHOP(1)"'))
        assert [row["room"] for row in rows] == ["'=SHOP(1)", "'=SHOP(1)", "store", "store"]
        assert changed == 2
