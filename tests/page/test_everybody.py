"""The page for everybody: by keyboard alone, on a narrow screen and a wide one, with targets that a thumb finds, and
nothing that a check of accessibility finds fault with."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, ViewportSize, expect

from page.running import DESK, PHONE, WAIT, Visit
from page.small_shop import SMALL

pytest.importorskip("axe_playwright_python", reason="the package axe-playwright-python is not installed")

from axe_playwright_python.sync_playwright import Axe

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


def test_by_keyboard_alone_from_the_first_screen_to_the_answer(visit: Visit) -> None:
    """Tab, Enter and the arrows only: the focus is always seen, each step leads to the next question, and one gets out
    of everything."""
    visit.open()
    page = visit.page

    def to(name: str) -> None:
        for _ in range(60):
            page.keyboard.press("Tab")
            shown = page.evaluate(
                "() => { const on = document.activeElement, style = getComputedStyle(on);"
                " return [on.id, on.innerText ?? '', style.outlineStyle + style.boxShadow]; }"
            )
            assert shown[2] != "nonenone", f"the focus is not seen on {shown}"
            if name in (shown[0], shown[1].split("\n")[0]):
                return
        raise AssertionError(f"there is no way by Tab to `{name}`")

    def enter(name: str) -> None:
        to(name)
        before = page.url
        page.keyboard.press("Enter")
        expect(page).not_to_have_url(before, timeout=WAIT)
        visit.settled()

    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    enter("Must this receptacle be marked?")
    expect(page.locator("#now")).to_be_focused()
    to("where")
    page.keyboard.type("National Electrical Code (NFPA 70), 2023")
    enter("Go on")
    known = ("A wall switch, by hand", "No, nothing else", "Office for one or a few", "A plotter, printer or copier")
    for says in known:
        expect(page.locator("#now")).to_be_focused()
        enter(says)
    expect(page.locator("#answer")).to_be_focused()
    assert visit.outcomes() == ["Not required", "Permitted"]
    to("The row that decided, and how well it is checked")
    page.keyboard.press("Enter")
    expect(page.locator("details").first).to_have_attribute("open", "")
    to("Another receptacle, same place")


def test_the_skip_link_leads_to_the_question(visit: Visit) -> None:
    """Past the head of the page."""
    visit.open("#ask=marking&edition=nfpa-70:2023&o.switched=hand")
    visit.page.keyboard.press("Tab")
    visit.page.keyboard.press("Enter")
    expect(visit.page.locator("#now")).to_be_focused()
