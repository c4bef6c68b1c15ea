"""Names that try to break out of a page or a drawing, or that hardly fit on one."""

from __future__ import annotations

import io
from functools import cache
from typing import Any

import pytest
from pypdf import PdfReader

import ruling_data as data
from outputs.small_shop import KEEP_OFF, SHOP, everything, shop
from pages.reading import SVG, drawing_of, drawn_texts, faults_of, overlaps, parse, text_of
from shipped_book import book
from yokebook_adapters.building import names
from yokebook_adapters.drawings.face import Half, draw_face
from yokebook_adapters.marking_schedule import marking_schedule
from yokebook_adapters.pages.paper import as_pdf
from yokebook_adapters.pages.printing import css_text, named
from yokebook_adapters.pages.ruling_sheet import ruling_sheet
from yokebook_adapters.pages.schedule import marking_schedule_page
from yokebook_adapters.report import Report
from yokebook_adapters.views import marks_by_yoke, parts_to_buy

SCRIPT = "<script>alert(1)</script>"
QUOTES = """it's "5 < 6" & `back` </style><!-- """
LONG = "Donaudampfschifffahrtselektrizitaetenhauptbetriebswerkbauunterbeamtengesellschaft" * 3
HEBREW = "חדר ישיבות"
EMOJI = "break room \N{HOT BEVERAGE}\N{SMILING FACE WITH SUNGLASSES}"
TURNED = "R1 \N{RIGHT-TO-LEFT OVERRIDE}dekram"

HOSTILE = (SCRIPT, QUOTES, LONG, HEBREW, EMOJI, TURNED)


def report_named(name: str) -> tuple[Report, dict[str, Any]]:
    """The small shop with its project, its rooms and a device called so, and its schedule."""
    graph = shop(SHOP)
    rulings = everything(graph)
    for thing in (*graph.things["space"], graph.things["yoke"][0], graph.project):
        old, thing.label = thing.label, name if thing.kind != "yoke" else f"R1, {name}, {name}"
        thing.text = dict.fromkeys(thing.text, name)
        for ruling in rulings:
            ruling["room"] = name if ruling["room"] == old else ruling["room"]
            label = ruling["subject"]["label"].replace(old, name) if old else ruling["subject"]["label"]
            ruling["subject"] = ruling["subject"] | {"label": label}
    marks, parts = marks_by_yoke(rulings, graph), parts_to_buy(rulings, graph)
    asked = {r["question"]: data.question(r["question"], r["ruling"], r["subject"]["kind"], True) for r in rulings}
    said = names(book()) | {"questions": asked}
    report = Report(f"{name}.yaml", name=name, place=name, stated_by=name, rulings=rulings, rooms=[name], marks=marks,
                    parts=parts, **said)  # fmt: skip
    return report, marking_schedule(rulings, [graph], book(), KEEP_OFF)


@cache
def pages_of(name: str) -> dict[str, str]:
    report, schedule = report_named(name)
    return {
        "short": ruling_sheet(report),
        "full": ruling_sheet(report, full=True),
        "schedule": marking_schedule_page(report, schedule),
    }


@pytest.mark.parametrize("name", HOSTILE, ids=["script", "quotes", "long", "hebrew", "emoji", "turned"])
class TestHostileNames:
    def test_stay_text(self, name: str):
        shown = " ".join(name.replace("\N{RIGHT-TO-LEFT OVERRIDE}", "\ufffd").split())
        for html in pages_of(name).values():
            assert faults_of(html) == []
            root = parse(html)
            heading = root.find("body/header/h1")
            assert heading is not None and text_of(heading).endswith(shown)
            assert [text_of(part) for part in root.iter("h2")].count(shown[0].upper() + shown[1:]) >= 1

    def test_stay_text_in_drawings(self, name: str):
        halves = [Half("upper", "controlled", f"controlled by {name}", "marked", ("symbol and word",), ("face",))]
        picture = draw_face(f"R1, {name}", halves, name)
        drawing = drawing_of(picture.document())
        shown = name.replace("\N{RIGHT-TO-LEFT OVERRIDE}", "\ufffd")
        title = drawing.findtext(f"{SVG}title") or ""
        assert title == f"Face of R1, {shown}"
        written = "".join(drawn_texts(drawing)).replace(" ", "").replace("\u2068", "").replace("\u2069", "")
        assert f"R1,{shown}".replace(" ", "") in written
        assert overlaps(drawing) == []
        assert [element.tag for element in drawing.iter() if not str(element.tag).startswith(SVG)] == []



@pytest.mark.parametrize("name", [SCRIPT, LONG, HEBREW], ids=["script", "long", "hebrew"])
def test_hostile_names_go_on_paper(name: str):
    text = "".join(page.extract_text() for page in PdfReader(io.BytesIO(as_pdf(pages_of(name)["short"]))).pages)
    assert "not satisfied" in text and "page 1 of" in text
    assert name != SCRIPT or SCRIPT in text.replace("\n", "")


def test_words_of_rulings_are_escaped_too():
    bad = data.NOT_SATISFIED | {"says": SCRIPT, "standing": [data.standing("a#b", "not satisfied", QUOTES, SCRIPT)]}
    html = ruling_sheet(data.report(bad), full=True)
    assert faults_of(html) == []
    assert SCRIPT in text_of(parse(html)) and SCRIPT not in html


def test_every_kind_of_ruling_can_be_printed():
    """Nothing that must be said is left out, whatever the status: also held, from memory, not checked."""
    memory = data.NOT_SATISFIED | {"checked": {"mark": "memory", "because": []}}
    for full in (False, True):
        html = ruling_sheet(data.report(*data.EVERY_KIND, memory), full=full)
        assert faults_of(html) == []
        text = text_of(parse(html))
        for words in ("also held: ", "not checked in this edition", "rests on memory", "cannot tell"):
            assert words in text
        assert "readings differ" in text


def test_a_name_in_the_style_sheet_cannot_end_its_string():
    for name in HOSTILE:
        text = str(css_text(name))
        assert text[0] == text[-1] == '"'
        assert not set(text[1:-1]) & set("\"'<>\n;{}")


def test_what_stands_between_backticks_is_set_apart_and_escaped():
    assert str(named("as `<b>` says")) == 'as <span class="name">&lt;b&gt;</span> says'
    assert str(named("one ` alone <")) == "one ` alone &lt;"
