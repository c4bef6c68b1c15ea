"""The page for everybody: on a narrow screen and a wide one, with targets that a thumb finds, and nothing that a check
of accessibility finds fault with. By keyboard alone: test_one_receptacle.py."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, ViewportSize

from page.running import DESK, PHONE, Visit
from page.small_shop import SMALL

pytest.importorskip("axe_playwright_python", reason="the package axe-playwright-python is not installed")

from axe_playwright_python.sync_playwright import Axe

pytestmark = pytest.mark.slow

#: A thumb finds it.
LEAST_TARGET = 44

SCREENS = {
    "first screen": "",
    "where": "#ask=marking",
    "question": "#ask=marking&edition=nfpa-70:2023&o.switched=hand",
    "number": "#ask=control.load&edition=nfpa-70:2023&contact.supply=controlled&control.kind=snap+switch"
    "&load.kind=lamp&control.general_marked=yes&control.contacts.complete=yes&control.wired_loads.complete=no~",
    "answer": "#ask=marking&edition=nfpa-70:2023&o.switched=timer&o.room=office&o.plugged=computer&o.slots=20",
    "what moves": "#ask=marking&place=demo/tamarisk/brindle-falls&on=2024-10-15&was-edition=nfpa-70:2023"
    "&o.switched=hand&o.else=no&o.room=office&o.plugged=lamp&o.slots=20",
    "every question": "#view=questions",
    "file": "#view=building",
}


def _sound(page: Page) -> None:
    """No violation, nothing wider than the screen, no small target."""
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    for each in page.locator("button:visible, a:visible, select:visible, input:visible, summary:visible").all():
        box = each.bounding_box()
        assert box is None or box["height"] >= LEAST_TARGET or box["width"] <= 1, each.evaluate("e => e.outerHTML")


def _at(page: Page, size: ViewportSize) -> None:
    page.set_viewport_size(size)
    _sound(page)


@pytest.mark.parametrize("screen", SCREENS)
def test_every_screen_is_sound_on_a_phone_and_on_a_desk(visit: Visit, screen: str) -> None:
    """At 360 and at 1280 px."""
    visit.open(SCREENS[screen])
    if screen in ("answer", "what moves"):
        visit.whole()
    _at(visit.page, PHONE)
    _at(visit.page, DESK)


def test_the_sheet_of_a_building_is_sound_too(visit: Visit) -> None:
    """The list, one ruling of it, and what moves."""
    visit.drop(SMALL.replace("NAME", "Shop"))
    _at(visit.page, PHONE)
    _at(visit.page, DESK)
    visit.line("Does the mark that is there satisfy?")
    _at(visit.page, DESK)
    _at(visit.page, PHONE)
