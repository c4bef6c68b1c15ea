"""The demo building's pages: the same numbers as the JSON, the same bytes twice, and what a reader must find."""

from __future__ import annotations

import io
import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any, cast
from xml.etree.ElementTree import Element

import pytest
from pypdf import PdfReader

import yokebook
from pages.reading import (
    SVG,
    bookmarks,
    faults_of,
    fingerprint,
    parse,
    sections,
    tables,
    tagged_parts,
    text_of,
)
from yokebook import front_door
from yokebook_adapters.as_json import report_data
from yokebook_adapters.authority import questions_for_authority
from yokebook_adapters.building import make_report
from yokebook_adapters.marking_schedule import kinds_to_keep_off, marking_schedule
from yokebook_adapters.pages.law import place_page, tables_page, trace_page
from yokebook_adapters.pages.paper import as_pdf
from yokebook_adapters.pages.questions import questions_page
from yokebook_adapters.pages.ruling_sheet import ruling_sheet
from yokebook_adapters.pages.schedule import marking_schedule_page
from yokebook_adapters.report import Report

DEMO = Path(__file__).parents[2] / "adapters" / "yokebook_adapters" / "demo" / "brindle-falls.yaml"
NAMES = ("short", "full", "schedule", "questions", "table", "place", "trace")


class Made:
    """What was ruled of one building, and the pages of it."""

    def __init__(self, file: Path, topics: list[str], *, would_change: bool = True) -> None:
        self.book = yokebook.load()
        self.graph = front_door.read_project(file, self.book.book)
        self.code = self.book.in_force(self.graph.place or "", self.graph.dates)
        sheet = self.code.rule_project(self.graph, None, topics)
        self.sheet = sheet
        self.report: Report = make_report(str(file), [sheet], self.book)
        if not would_change:
            self.report = replace(self.report, would_change=lambda ruling: [])
        keep_off = kinds_to_keep_off(sheet.session.in_force, self.book.book)
        self.schedule = marking_schedule(self.report.rulings, [self.graph], self.book.book, keep_off)
        book = self.book.book
        self.questions = questions_for_authority(self.report.rulings, [self.graph], book.readings, book.questions)

    def page(self, name: str) -> str:
        """One page, made anew."""
        book, law = self.book.book, self.code.table("marking.required", "electrical")[1]
        match name:
            case "short":
                return ruling_sheet(self.report)
            case "full":
                return ruling_sheet(self.report, full=True)
            case "schedule":
                return marking_schedule_page(self.report, self.schedule)
            case "questions":
                return questions_page(self.report, self.questions)
            case "table":
                return tables_page([(law.resolved, "marking.required")], book)
            case "place":
                return place_page(book, book.places[self.graph.place or ""])
        ruling = self.code.explain("marking.required", self.graph, "electrical", self.marked())
        return trace_page(Report("x", rulings=[ruling.to_dict() | {"room": "", "at": None}], **self.names()), book)

    def marked(self) -> str:
        """A contact device that has to be marked."""
        return next(str(r["subject"]["id"]) for r in self.report.rulings
                    if r["question"] == "marking.required" and r["outcome"] == "required")  # fmt: skip

    def names(self) -> dict[str, Any]:
        report = self.report
        return {"questions": report.questions, "inputs": report.inputs, "documents": report.documents,
                "cautions": report.cautions}  # fmt: skip


@cache
def demo() -> Made:
    return Made(DEMO, [], would_change=False)  # which takes long, and is on the pages of the whole house


@cache
def page(name: str) -> str:
    return demo().page(name)


@cache
def parsed(name: str) -> Element:
    return parse(page(name))


@cache
def tables_of(name: str) -> dict[str, list[dict[str, str]]]:
    return tables(parsed(name))


@cache
def paper(name: str) -> bytes:
    return as_pdf(page(name))


@cache
def paper_text(name: str) -> str:
    return " ".join(" ".join(each.extract_text() for each in PdfReader(io.BytesIO(paper(name))).pages).split())


@pytest.mark.parametrize("name", NAMES)
class TestEveryPage:
    def test_is_fit_for_screens_printers_and_readers(self, name: str):
        assert faults_of(page(name)) == []

    def test_ends_with_the_cautions(self, name: str):
        footer = parsed(name).find("body/footer")
        assert footer is not None
        assert [text_of(item) for item in footer.iter("li")] == [
            " ".join(caution.split()) for caution in demo().report.cautions
        ]

    def test_is_the_same_made_again(self, name: str):
        assert fingerprint(demo().page(name)) == fingerprint(page(name))


class TestTheSheet:
    @pytest.mark.parametrize("name", ["short", "full"])
    def test_counts_are_those_of_the_json(self, name: str):
        [caption] = [caption for caption in tables_of(name) if caption.endswith("worst first")]
        rows = tables_of(name)[caption]
        data = report_data(demo().report)
        assert caption == f"{len(data['rulings'])} rulings, worst first"
        titles = {"against": "Against", "also held": "Settled, but also held otherwise"}
        counts = {titles.get(heap, heap.capitalize()): str(count) for heap, count in data["counts"].items()}
        assert {row["Result"]: row["Rulings"] for row in rows} == counts
        words = Counter(ruling["word"] for ruling in data["rulings"])
        told = Counter[str]()
        for row in rows:
            told.update({word: int(count) for count, word in re.findall(r"(\d+) ([^;]+)", row["In words"])})
        assert told == words

    @pytest.mark.parametrize("name", ["short", "full"])
    def test_rooms_add_up(self, name: str):
        rows = tables_of(name)["By room"]
        assert sum(int(value) for row in rows for key, value in row.items() if key != "Room") == len(
            demo().report.rulings
        )
        assert [row["Room"] for row in rows[:3]] == ["Living room", "Home office", "Private office"]

    def test_every_finding_stands_in_its_room_with_word_and_section(self):
        found = {
            caption.removeprefix("Findings in ").lower(): rows
            for caption, rows in tables_of("short").items()
            if caption.startswith("Findings in ")
        }
        against = [ruling for ruling in demo().report.rulings if ruling["against"]]
        assert len(against) == 9
        for ruling in against:
            rows = [row for row in found[ruling["room"]] if row["Ruling and device"].startswith(ruling["ruling"])]
            device = ruling["subject"]["label"].removesuffix(f", {ruling['room']}")
            said = f"{ruling['word']}: {ruling['says']}"
            [row] = [row for row in rows if device in row["Ruling and device"] and row["Outcome"].startswith(said)]
            assert all(rule["cite"]["section"] in row["Section"] for rule in ruling["standing"])

    def test_the_numbers_of_a_finding(self):
        """1,440 W and 600 W at 120 V are 17 A; 1,800 W are 15 A."""
        rows = tables_of("short")["Findings in Copy room"]
        [loads] = [row for row in rows if row["Ruling and device"].startswith("R13")]
        assert "17 A > 15 A by 2 A" in loads["Numbers"]

    def test_short_and_full_find_the_same(self):
        short, full = parsed("short"), parsed("full")
        rows = [row for caption, rows in tables(short).items() if caption.startswith("Findings in ") for row in rows]
        heads = [text_of(heading) for part in full.iter("article") for heading in part.findall("h3")]
        said = [f"{row['Ruling and device']}: {_word(row['Outcome'])}" for row in rows]
        assert Counter(said) == Counter(heads)

    def test_the_full_one_says_why_and_what_else_was_tried(self):
        [copy] = [part for heading, part in sections(parsed("full")) if heading == "Copy room"]
        text = text_of(copy)
        assert "The mark is not where it must be." in text
        tried = [rows for caption, rows in tables(copy).items() if caption.startswith("Rules tried for R60")]
        [decided] = [row for row in tried[0] if row["Here"] == "decides"]
        assert (decided["Rule"], decided["Says"], decided["What stops it"]) == ("out-of-place", "not satisfied", "")
        others = [row for row in tried[0] if row["Here"] == "does not hold"]
        assert others and all(row["What stops it"] for row in others)
        assert "stated by the demo's author" in text

    def test_only_the_full_one_is_signed_off_and_says_what_to_find_out(self):
        heads = {name: [heading for heading, _ in sections(parsed(name))] for name in ("short", "full")}
        assert set(heads["full"]) - set(heads["short"]) == {"What to find out", "For the authority"}
        assert "Readings" in heads["short"]


def _word(outcome: str) -> str:
    return re.split(r"[:;]", outcome)[0]


class TestTheSchedule:
    def test_lines_and_totals_are_those_of_the_data(self):
        root = parsed("schedule")
        rows = {caption: rows for caption, rows in tables(root).items() if caption.startswith("Devices in ")}
        lines = demo().schedule["lines"]
        assert sum(len(each) for each in rows.values()) == len(lines) == 18
        ordered = next(rows for caption, rows in tables(root).items() if caption.startswith("Devices by part type"))
        order = demo().schedule["order"]
        assert {row["Device"]: row["Count"] for row in ordered} == {
            each["device"]: str(each["count"]) for each in order["devices"]
        }
        controls = tables(root)["Controls by kind and rating"]
        assert {row["Control"]: row["Count"] for row in controls} == {
            each["control"]: str(each["count"]) for each in order["controls"]
        }
        assert [caption for caption in tables(root) if "18 devices, no spares" in caption]

    def test_each_device_has_its_face(self):
        drawings = parsed("schedule").iter("{http://www.w3.org/2000/svg}svg")
        titles = [(each.findtext("{http://www.w3.org/2000/svg}title")) for each in drawings]
        assert titles == [f"Face of {line['label']}" for line in demo().schedule["lines"]]

    def test_what_is_against_stands_with_its_device(self):
        [row] = [row for row in tables_of("schedule")["Devices in Break room, in walking order"]
                 if row["Device on the plan"].startswith("W1")]  # fmt: skip
        assert "refrigerator at upper: move to always-on [R51]" in row["Take care"]


class TestTheQuestions:
    def test_each_with_what_each_answer_gives(self):
        root = parsed("questions")
        heads = [text_of(heading) for part in root.iter("article") for heading in part.findall("h3")]
        assert [head.partition(". ")[0] for head in heads] == ["1", "2", "3"]
        rating = next(n for n, q in enumerate(demo().questions, start=1) if q["id"] == "switch-rating")
        rows = tables(root)[f"What each answer to question {rating} would give"]
        assert {row["If read as"]: row["It gives"] for row in rows} == {
            "largest permitted breaker": "R12 1 not satisfied and 1 cannot tell",
            "actual breaker": "R12 1 satisfied and 1 cannot tell",
        }
        assert text_of(root).count("Answer of Brindle Falls building counter:") == 3


class TestTheLaw:
    def test_a_table_has_a_row_for_each_rule_and_one_for_none(self):
        table = demo().code.table("marking.required", "electrical")[1].resolved.tables["marking.required"]
        rows = tables_of("table")["Rules of marking.required"]
        assert [row["Rule"] for row in rows] == [
            *(rule.id.removeprefix("marking.required#") for rule in table.rules),
            "where no rule holds",
        ]
        assert [row["Outcome"] for row in rows] == [*(rule.then for rule in table.rules), "not required"]

    def test_a_place_has_every_entry_and_amendment(self):
        place = demo().book.book.places["demo/tamarisk/brindle-falls"]
        found = tables_of("place")
        for kind, line in place.lines.items():
            assert len(found[kind.capitalize()]) == len(line)
        amended = [row["Amendment"] for caption, rows in found.items() if "Amendments of" in caption for row in rows]
        assert amended == [each.id for layer in place.layers.values() for each in layer.amendments]

    def test_a_trace_lights_the_row_that_decided(self):
        root = parsed("trace")
        rows = tables(root)["Rules tried"]
        assert [row["Rule"] for row in rows if row["Here"] == "decides"] == ["automatic"]
        lit = [row for row in root.iter("tr") if row.get("class") == "decides"]
        assert len(lit) == 1


@pytest.mark.parametrize("name", ["short", "schedule", "questions", "table", "place", "trace"])
class TestTags:
    """What a PDF/UA reader needs; the expected parts are those of the HTML, which has no notion of paper."""

    def test_is_tagged_titled_and_looks_at_no_clock(self, name: str):
        reader = PdfReader(io.BytesIO(paper(name)))
        catalogue = cast(Mapping[str, Any], reader.trailer["/Root"])
        title = parsed(name).findtext("head/title")
        assert catalogue["/MarkInfo"]["/Marked"] in (True, "true")
        assert catalogue["/ViewerPreferences"]["/DisplayDocTitle"] in (True, "true")
        assert catalogue["/Lang"] == "en"
        assert reader.metadata is not None
        assert title and reader.metadata.title == title
        assert reader.metadata.creation_date is None and reader.metadata.modification_date is None
        assert b"pdfuaid" in catalogue["/Metadata"].get_data()

    def test_headings_are_tagged_and_bookmarked_in_the_order_of_the_page(self, name: str):
        headings = [each for each in parsed(name).iter() if re.fullmatch("h[1-6]", str(each.tag))]
        reader = PdfReader(io.BytesIO(paper(name)))
        tagged = [each["/S"] for each in tagged_parts(reader) if re.fullmatch("/H[1-6]", str(each["/S"]))]
        assert tagged == [f"/H{str(each.tag)[1]}" for each in headings]
        assert bookmarks(reader) == [text_of(each) for each in headings]

    def test_every_drawing_says_what_it_shows(self, name: str):
        drawings = parsed(name).iter(f"{SVG}svg")
        said = [". ".join(each.findtext(f"{SVG}{part}", "") for part in ("title", "desc")) for each in drawings]
        found = [each for each in tagged_parts(PdfReader(io.BytesIO(paper(name)))) if each["/S"] == "/Figure"]
        assert [each["/Alt"] for each in found] == said

    def test_every_cell_names_its_heads_and_these_say_which_way_they_point(self, name: str):
        """A table that goes over a page is one table on each, with its head again."""
        reader = PdfReader(io.BytesIO(paper(name)))
        parts = list(tagged_parts(reader))
        heads = {each["/ID"]: each["/A"]["/Scope"] for each in parts if each["/S"] == "/TH"}
        cells = [each for each in parts if each["/S"] == "/TD"]
        named = [[heads[head] for head in each["/A"]["/Headers"]] for each in cells]
        assert len(cells) >= len(list(parsed(name).iter("td")))
        assert all(set(each) == {"/Row", "/Column"} for each in named)
        tree = cast(Mapping[str, Any], reader.trailer["/Root"])["/StructTreeRoot"]["/IDTree"]["/Names"]
        assert list(tree[::2]) == sorted(heads)
        assert [each.get_object()["/ID"] for each in tree[1::2]] == sorted(heads)


class TestPaper:
    def test_is_the_same_made_again(self):
        assert fingerprint(as_pdf(page("questions"))) == fingerprint(paper("questions"))

    def test_every_page_says_of_what_it_is_and_which_it_is(self):
        reader = PdfReader(io.BytesIO(paper("short")))
        digest = demo().report.digests()["record"][:12]
        for number, each in enumerate(reader.pages, start=1):
            text = each.extract_text()
            assert f"page {number} of {len(reader.pages)}" in text
            assert "Copper Kettle Block, six rooms (invented)" in text and f"record {digest}" in text

    def test_the_schedule_holds_every_device_and_mark(self):
        text = paper_text("schedule")
        for line in demo().schedule["lines"]:
            assert line["label"].removesuffix(f", {line['room']}") in text
            assert line["device"] in text
        marks = Counter(line["mark"]["halves"] for line in demo().schedule["lines"])
        assert text.count("Mark: none") == marks["none"]
        assert text.count("Mark: on upper; form: symbol and word; place: face") == marks["upper"] == 12
        assert text.count("Mark: on both") == marks["both"]

    def test_the_sheet_holds_every_finding_and_word(self):
        text = paper_text("short")
        findings = [ruling for ruling in demo().report.rulings if ruling["against"] or ruling["status"] != "settled"]
        for ruling in findings:
            device = ruling["subject"]["label"].removesuffix(f", {ruling['room']}")
            assert ruling["status"] == "none in force" or (device in text and ruling["word"] in text)
