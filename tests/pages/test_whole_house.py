"""The whole invented house, every question asked: its pages and paper. Long, so once."""

from __future__ import annotations

import io
from functools import cache
from pathlib import Path

import pytest
from pypdf import PdfReader

from pages.reading import SVG, faults_of, fingerprint, overlaps, parse, tables
from pages.test_demo_pages import Made
from yokebook_adapters.drawings.plan import draw_plan
from yokebook_adapters.drawings.plan_data import plan_of
from yokebook_adapters.pages.paper import as_pdf
from yokebook_adapters.pages.ruling_sheet import ruling_sheet

HOUSE = Path(__file__).parents[2] / "adapters" / "yokebook_adapters" / "demo" / "tamarisk-learning-house.yaml"

pytestmark = pytest.mark.slow


@cache
def house() -> Made:
    return Made(HOUSE, ["all"])


@cache
def sheet() -> str:
    made = house()
    plans = {
        space.label: draw_plan(plan, f"plan-{space.id}").inline()
        for space in made.graph.things["space"]
        if (plan := plan_of(space, made.report.rulings, made.sheet.session))
    }
    assert list(plans) == ["living room", "open-plan office", "classroom"]
    return ruling_sheet(made.report, plans=plans)


def test_pages_are_fit_and_drawings_legible():
    for html in (sheet(), house().page("schedule"), house().page("questions"), house().page("trace")):
        assert faults_of(html) == []
        assert [pair for drawing in parse(html).iter(f"{SVG}svg") for pair in overlaps(drawing)] == []


def test_every_finding_and_device_is_on_paper():
    made = house()
    for html in (sheet(), made.page("schedule")):
        paper = as_pdf(html)
        assert fingerprint(paper) == fingerprint(as_pdf(html))
        text = " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(paper)).pages).split())
        for line in made.schedule["lines"]:
            assert line["label"].removesuffix(f", {line['room']}") in text
    against = [ruling for ruling in made.report.rulings if ruling["against"]]
    found = tables(parse(sheet()))
    assert "Would change" not in sheet() and " gives satisfied." in sheet()
    told = sum(
        row["Ruling and device"].startswith(f"{ruling['ruling']} ")
        and ruling["subject"]["label"].removesuffix(f", {ruling['room']}") in row["Ruling and device"]
        and row["Outcome"].startswith(ruling["word"])
        for ruling in against
        for row in found.get(f"Findings in {(ruling['room'] or 'Not in one room')[0].upper()}{ruling['room'][1:]}", ())
    )
    assert told >= len(against)
