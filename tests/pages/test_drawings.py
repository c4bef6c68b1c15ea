"""Drawings: what they show, that it can be told without colour and without seeing, and that nothing is drawn over."""

from __future__ import annotations

import re
from fractions import Fraction
from functools import cache
from pathlib import Path
from xml.etree.ElementTree import Element

import pytest

import yokebook
from pages.reading import SVG, covered, drawing_of, drawn_texts, faults_of_drawing, overlaps
from yokebook.front_door import read_project
from yokebook.sheet import Sheet
from yokebook_adapters.drawings.face import Half, draw_face
from yokebook_adapters.drawings.plan import draw_plan
from yokebook_adapters.drawings.plan_data import Distance, Plan, Reach, Spot, Wall, measuring, plan_of
from yokebook_adapters.drawings.svg import Picture
from yokebook_adapters.drawings.table_picture import draw_table, picture_of_law, picture_of_trace
from yokebook_adapters.drawings.timeline import draw_timeline

UPPER = Half("upper", "controlled", "controlled by C1, circuit P/1", "marked", ("symbol and word",), ("face",))
LOWER = Half("lower", "always on", "always on, circuit P/1", "not marked")

#: Two rooms of the invented city. On the long wall R1 has one half for the lamp, so its other half counts: with a reach
#: of 6 ft, R1 at 5 ft covers 0 to 11 ft, R2 at 12 ft 6 in covers 6 ft 6 in to 18 ft 6 in; the last 18 in are left.
#: F2 is 108 - 24 = 84 in from F3, whose first half is controlled by a clock, and 108 in from F1.
ROOMS = """\
project: {name: Two rooms, place: demo/tamarisk/brindle-falls, dates: {permit application: 2024-10-15}, work_kind: new}
complete: yes
spaces:
  - id: living
    name: living room
    occupancy: dwelling
    use: living room
    required_lighting_outlet: met by switched receptacle
    walls: [{id: long, length_in: 20 ft, behind_counter: none}]
    yokes:
      - {id: R1, location: by the armchair, configuration: 5-15R, device_type: duplex, wall: long, position_in: 5 ft,
         serves: general, height_in: 16 in, in_cabinet: no, built_in_control: no, mounting: upright, contacts: [
           {id: upper, position: upper, supply: controlled, controls: [S1], circuit: P/1, load: lamp},
           {id: lower, position: lower, supply: always on, circuit: P/1, load: none}]}
      - {id: R2, location: by the shelf, configuration: 5-15R, device_type: duplex, wall: long, position_in: 150 in,
         serves: general, height_in: 16 in, in_cabinet: no, built_in_control: no, mounting: upright, contacts: [
           {id: upper, position: upper, supply: always on, circuit: P/1, load: none},
           {id: lower, position: lower, supply: always on, circuit: P/1, load: none}]}
  - id: open
    name: open office
    occupancy: office
    use: open office
    area_sq_ft: 1600 sq ft
    walls: []
    yokes:
      - {id: F1, location: in the cluster, configuration: 5-15R, device_type: duplex, wall: none, x_in: 0 in,
         y_in: 0 in, built_in_control: no, mounting: upright, serves: general, contacts: [
           {id: upper, position: upper, supply: controlled, controls: [K1], circuit: P/1, load: none,
            designation: none},
           {id: lower, position: lower, supply: controlled, controls: [K1], circuit: P/1, load: none,
            designation: none}]}
      - {id: F2, location: on the column, configuration: 5-20R, device_type: duplex, wall: none, x_in: 108 in,
         y_in: 0 in, built_in_control: no, mounting: upright, serves: general, contacts: [
           {id: upper, position: upper, supply: always on, circuit: P/1, load: none, designation: none},
           {id: lower, position: lower, supply: always on, circuit: P/1, load: none, designation: none}]}
      - {id: F3, location: under the desk, configuration: 5-20R, device_type: duplex, wall: none, x_in: 24 in,
         y_in: 0 in, built_in_control: no, mounting: upright, serves: general, contacts: [
           {id: upper, position: upper, supply: controlled, controls: [K1], circuit: P/1, load: none,
            designation: none},
           {id: lower, position: lower, supply: always on, circuit: P/1, load: none, designation: none}]}
controls:
  - {id: S1, name: switch at the door, kind: snap switch, turns_off_by: person, turns_on_by: person,
     acts_as_wall_switch: yes, location: wall at entrance, wired_loads: []}
  - {id: K1, name: clock, kind: time clock, turns_off_by: schedule, turns_on_by: schedule, wired_loads: []}
circuits: [{id: P/1, breaker_amps: 15, volts: 120}]
loads: [{id: lamp, kind: lamp}]
"""


@cache
def rulebook() -> yokebook.Rulebook:
    return yokebook.load()


@cache
def ruled() -> Sheet:
    graph = read_project(ROOMS, rulebook().book, "rooms.yaml")
    code = rulebook().in_force(graph.place or "", graph.dates)
    return code.rule_project(graph, [question.id for question in measuring(code.session(graph))])


@cache
def plan(room: str) -> Plan:
    return plan_of(ruled().session.graph.find(room), [ruling.to_dict() for ruling in ruled().rulings], ruled().session)


def drawn(picture: Picture) -> Element:
    """The drawing, which must be well-formed, described, and nowhere drawn over itself."""
    drawing = drawing_of(picture.document())
    assert faults_of_drawing(drawing) == []
    assert overlaps(drawing) == []
    assert {float(side) for side in (drawing.get("width", ""), drawing.get("height", ""))} <= set(
        map(float, (drawing.get("viewBox") or "").split()[2:])
    )
    return drawing


def hatched(drawing: Element) -> int:
    """How many parts are filled with slanting lines."""
    return sum("L" in (path.get("d") or "") for path in drawing.iter(f"{SVG}path"))


def dotted(drawing: Element) -> int:
    return sum("h0.01" in (path.get("d") or "") for path in drawing.iter(f"{SVG}path"))


class TestFace:
    def test_tells_the_halves_apart_by_hatching_and_words(self):
        drawing = drawn(draw_face("R1, north wall", [UPPER, LOWER]))
        assert (hatched(drawing), dotted(drawing)) == (1, 0)
        texts = drawn_texts(drawing)
        assert texts.index("upper") < texts.index("lower")
        assert "always on" in texts and texts.count("controlled") == 2  # on the strip, and the word of the mark

    def test_the_mark_sits_on_the_half_that_is_to_be_marked(self):
        marked, bare = (draw_face("R1", halves) for halves in ([UPPER, LOWER], [LOWER, LOWER]))
        pennants = [shape for shape in drawn(marked).iter(f"{SVG}polygon") if shape.get("fill") == "#111111"]
        assert len(pennants) == 1
        assert not [shape for shape in drawn(bare).iter(f"{SVG}polygon") if shape.get("fill") == "#111111"]
        [points] = [shape.get("points") or "" for shape in pennants]
        first_box = next(box for box in drawn(marked).iter(f"{SVG}rect") if box.get("rx") == "2")
        top, high = float(first_box.get("y", "")), float(first_box.get("height", ""))
        assert all(top < float(point.split(",")[1]) < top + high for point in points.split())

    def test_a_mark_that_is_a_symbol_alone_has_no_word(self):
        symbol = Half("upper", "controlled", "controlled by C1", "marked", ("symbol",), ("face",))
        assert drawn_texts(drawn(draw_face("R1", [symbol], legend=False))).count("controlled") == 1

    def test_a_mark_that_may_sit_elsewhere_has_dashes_around_it(self):
        elsewhere = Half("upper", "controlled", "controlled by C1", "marked", ("symbol",), ("outlet or plate",))
        dashes = [[box for box in drawn(draw_face("R1", [half])).iter(f"{SVG}rect") if box.get("stroke-dasharray")]
                  for half in (UPPER, elsewhere)]  # fmt: skip
        assert [len(each) for each in dashes] == [0, 1]

    def test_what_is_not_known_is_dotted_and_asked(self):
        open_ = Half("only", None, "not given whether it is switched", "open")
        drawing = drawn(draw_face("S1", [open_]))
        assert (hatched(drawing), dotted(drawing)) == (0, 1)
        assert {"?", "not given", "mark not settled"} <= set(drawn_texts(drawing))

    def test_one_to_four_contact_devices(self):
        for count in range(1, 5):
            positions = [("only",), ("left", "right"), ("first", "second", "third"),
                         ("first", "second", "third", "fourth")][count - 1]  # fmt: skip
            halves = [Half(position, "controlled", "controlled by C1", "marked") for position in positions]
            drawing = drawn(draw_face("Q1", halves))
            assert hatched(drawing) == count
            boxes = [box for box in drawing.iter(f"{SVG}rect") if box.get("rx") == "2"]
            assert len(boxes) == count
            rows = {box.get("y") for box in boxes}
            assert len(rows) == {1: 1, 2: 1, 3: 3, 4: 2}[count]

    def test_says_all_of_it_in_words(self):
        description = draw_face("R1", [UPPER, LOWER]).description
        assert "Upper: controlled by C1, circuit P/1; to be marked; form: symbol and word; place: face." in description
        assert "Lower: always on, circuit P/1; no mark asked for." in description
        assert "the mark itself is the one that the code's figure shows" in description


class TestPlan:
    def test_what_each_receptacle_reaches_and_what_is_left(self):
        [wall] = plan("living").walls
        assert [(reach.name, reach.low, reach.high, reach.exact) for reach in wall.reaches] == [
            ("R1", 0, 132, True),
            ("R2", 78, 222, True),
        ]
        assert wall.sure == wall.maybe == [(222, 240)]
        assert any(text.startswith("not satisfied") for text in wall.ruled)

    def test_the_part_out_of_reach_is_hatched_where_it_is(self):
        drawing = drawn(draw_plan(plan("living")))
        texts = drawn_texts(drawing)
        assert {"R1 reaches 0 ft to 11 ft", "R2 reaches 6 ft 6 in to 18 ft 6 in"} <= set(texts)
        assert "Out of reach: 18 ft 6 in to 20 ft, 1 ft 6 in in all" in texts
        # 20 ft are 620 wide from 30 on: 18 ft 6 in is at 30 + 620 * 222 / 240
        left = 30 + 620 * 222 / 240
        assert any(abs(float(box.get("x", "0")) - left) < 0.01 for box in drawing.iter(f"{SVG}rect") if box.get("x"))
        assert hatched(drawing) == 2  # the part out of reach, and R1, which has a controlled half

    def test_a_line_to_the_nearest_controlled(self):
        open_ = plan("open")
        assert {(each.of, each.half, each.text, each.to) for each in open_.distances} == {
            ("F2", "upper", "84 in", "F3"),
            ("F2", "lower", "84 in", "F3"),
            ("F3", "lower", "0 in", "F3"),
        }
        drawing = drawn(draw_plan(open_))
        assert "84 in" in drawn_texts(drawing)
        assert "F3 lower: 0 in, on the same device." in drawn_texts(drawing)

    def test_a_room_of_which_nothing_is_given_has_no_plan(self):
        empty = Plan("store", (), (), (), (), ("R1",))
        assert not empty
        assert draw_plan(empty).description == "No place is given of R1."


LONG = [f"receptacle-by-the-window-of-the-bay-{number:04d}" for number in range(24)]


class TestPlanOfManyNames:
    """Names of 40 characters; what has no room beside its device stands below."""

    @pytest.mark.parametrize("apart", [3, 12, 60, 240])
    @pytest.mark.parametrize("across", [1, 6, 24])
    def test_nothing_is_drawn_over_a_name_and_none_is_left_out(self, apart: int, across: int):
        assert {len(name) for name in LONG} == {40}
        places = [(Fraction(n % across * apart), Fraction(n // across * apart)) for n in range(len(LONG))]
        spots = [Spot(name, () if n % 3 else ("upper",), 2, *places[n]) for n, name in enumerate(LONG)]
        distances = [Distance(name, "upper", f"{apart} in", LONG[n - n % 3]) for n, name in enumerate(LONG) if n % 3]
        drawing = drawn(draw_plan(Plan("bay", (), tuple(spots), tuple(distances), (), ())))
        assert overlaps(drawing) == []
        assert covered(drawing) == []
        texts = "".join(drawn_texts(drawing)).replace(" ", "")
        assert all(f"{name}(uppercontrolled)" in texts for name in LONG[::3])
        assert all(texts.count(name) >= 2 for name in LONG)  # as a device and as one that a distance is of

    def test_how_far_it_is_is_not_written_under_the_device_half_way(self):
        spots = [
            Spot(name, ("upper",) if name == "A" else (), 2, Fraction(x))
            for name, x in (("A", 0), ("B", 24), ("C", 48))
        ]
        drawing = drawn(draw_plan(Plan("bay", (), tuple(spots), (Distance("C", "upper", "48 in", "A"),), (), ())))
        assert (covered(drawing), overlaps(drawing)) == ([], [])
        assert drawn_texts(drawing).count("48 in") == 1

    def test_what_each_reaches_is_said_beside_a_line_that_is_too_short_for_it(self):
        """240 in are 620 wide, so that 60 in are 155: less than the sentence."""
        reaches = tuple(
            Reach(name, Fraction(low), Fraction(low + 60), True) for name, low in zip(LONG, (0, 180), strict=False)
        )
        spots = tuple(Spot(name, (), 2, Fraction(x)) for name, x in zip(LONG, (30, 210), strict=False))
        wall = Wall("long", Fraction(240), spots, reaches, [], [], True, ())
        drawing = drawn(draw_plan(Plan("bay", (wall,), (), (), (), ())))
        assert overlaps(drawing) == []
        assert {f"{LONG[0]} reaches 0 ft to 5 ft", f"{LONG[1]} reaches 15 ft to 20 ft"} <= set(drawn_texts(drawing))


class TestTimeline:
    def test_every_place_can_be_drawn(self):
        book = rulebook().book
        for place in book.places.values():
            picture = draw_timeline(book, place)
            shown = set(drawn_texts(drawn(picture)))
            for entry in (entry for line in place.lines.values() for entry in line):
                assert entry.on_or_after is None or entry.on_or_after in shown
                assert entry.adopts is None or f"{entry.adopts.edition} edition" in picture.description

    def test_bars_tell_how_completely_law_is_entered(self):
        """Three of the city's four electrical entries are whole and one is not entered; both energy entries are."""
        book = rulebook().book
        drawing = drawn(draw_timeline(book, book.places["demo/tamarisk/brindle-falls"]))
        black = [box for box in drawing.iter(f"{SVG}rect") if box.get("fill") == "#111111"]
        assert len(black) == 5


class TestTable:
    def test_the_row_that_decided_is_lit_and_said_so(self):
        graph = ruled().session.graph
        code = rulebook().in_force(graph.place or "", graph.dates)
        ruling = code.explain("marking.required", graph, "electrical", "open/F3/upper").to_dict()
        drawing = drawn(draw_table(picture_of_trace(ruling, rulebook().book)))
        assert drawn_texts(drawing).count("decides") == 1
        assert len([box for box in drawing.iter(f"{SVG}rect") if box.get("stroke-width") == "3"]) == 1
        flags = list(drawing.iter(f"{SVG}polygon"))
        assert len(flags) == 1

    def test_where_nothing_is_settled_no_row_is_lit(self):
        code = rulebook().edition("nfpa-70", "2023")
        graph = read_project("spaces: [{id: a, yokes: [{id: R1, contacts: [{id: c}]}]}]", rulebook().book, "a.yaml")
        ruling = code.explain("marking.required", graph, "electrical", "a/R1/c").to_dict()
        assert ruling["status"] == "cannot tell"
        drawing = drawn(draw_table(picture_of_trace(ruling, rulebook().book)))
        assert "decides" not in drawn_texts(drawing) and "may hold" in drawn_texts(drawing)

    @pytest.mark.parametrize("question", ["marking.required", "marking.satisfied", "marking.form", "control.load"])
    def test_the_law_alone_has_every_rule(self, question: str):
        code = rulebook().edition("nfpa-70", "2023")
        law = code.table(question, "electrical")[1]
        picture = picture_of_law(law.resolved, question, rulebook().book)
        texts = "".join(drawn_texts(drawn(draw_table(picture)))).replace(" ", "")
        for rule in law.resolved.tables[question].rules:
            assert rule.id.rpartition("#")[2].replace(" ", "") in texts


def test_no_drawing_needs_colour():
    """Every tone that is drawn is a grey, and text is dark enough on white: at least 4.5 to 1."""
    folder = Path(__file__).parents[2] / "adapters" / "yokebook_adapters" / "drawings"
    tones = {tone for file in folder.glob("*.py") for tone in re.findall(r'"#([0-9a-f]{6})"', file.read_text("utf-8"))}
    assert {tone for tone in tones if not tone[:2] == tone[2:4] == tone[4:]} == set()
    dark = {tone for tone in tones if int(tone[:2], 16) < 0xE0}
    assert dark
    for tone in dark:
        part = int(tone[:2], 16) / 255
        light = part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4
        assert 1.05 / (light + 0.05) >= 4.5
