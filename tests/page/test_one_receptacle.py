"""One receptacle on a phone: the six typical cases as somebody finds them who has read nothing, and what else the
interview does. What each case comes to is what the code as published asks: a mark where something automatic takes the
power away, none for a switch worked by hand, unless the place's own ordinance says so."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from playwright.sync_api import expect

from page.running import WAIT, Visit
from yokebook.sheet import rule_again

#: Where the six cases are ruled on: 2023 as published, and an invented city whose ordinance has every switched one
#: marked.
PUBLISHED, ORDINANCE = "edition nfpa-70:2023", "place demo/tamarisk/brindle-falls"

HAND, ELSE = "A wall switch, by hand", "No, nothing else"
OFFICE, PLOTTER, TWENTY = "Office for one or a few", "A plotter, printer or copier", "20 A, 125 V, one slot like a T"

CASES = {
    "lamp on a wall switch": (
        PUBLISHED,
        [HAND, ELSE, "Living room", "No: this switched receptacle is for the room's light", "A lamp"],
        ["Not required", "Permitted"],
        "406.3(F) Exception",
    ),
    "plotter on a wall switch": (
        PUBLISHED, [HAND, ELSE, OFFICE, PLOTTER], ["Not required", "Permitted"],
        "a switch that somebody works by hand does not",
    ),
    "sensor": (
        PUBLISHED, ["An occupancy or vacancy sensor", OFFICE, PLOTTER, TWENTY],
        ["Required", "Not permitted", "Symbol and word", "Face"], "406.3(F)",
    ),
    "timer": (
        PUBLISHED, ["A timer that somebody starts", OFFICE, PLOTTER, TWENTY],
        ["Required", "Not permitted", "Symbol and word", "Face"], "A person starts it each time",
    ),
    "time clock": (
        PUBLISHED, ["A time clock", OFFICE, PLOTTER, TWENTY],
        ["Required", "Not permitted", "Symbol and word", "Face"], "406.3(F)",
    ),
    "the authority wants all marked": (
        ORDINANCE, [HAND, OFFICE, PLOTTER, TWENTY],
        ["Required", "Not permitted", "Symbol and word", "Face"], "Local amendment BF-1",
    ),
}  # fmt: skip

#: As many taps as one makes well within a minute, "I do not know" included.
MOST_TAPS = 9


@pytest.mark.parametrize("case", CASES)
def test_a_new_user_gets_a_typical_case_right_in_few_taps(visit: Visit, case: str) -> None:
    """From the first screen on, by what one sees; whatever is asked beside is not known."""
    place, known, outcomes, reason = CASES[case]
    visit.open()
    visit.choose("Must this receptacle be marked?")
    visit.say_where(place)
    while visit.asked():
        shown = visit.page.locator(".open .choice").all_inner_texts()
        visit.choose(next((says for says in known if any(text.startswith(says) for text in shown)), "I do not know"))
    assert visit.outcomes() == outcomes
    assert visit.taps <= MOST_TAPS
    expect(visit.page.locator("#answer")).to_contain_text(reason)
    visit.whole()
    expect(visit.page.locator(".cautions")).to_contain_text("The authority having jurisdiction decides")


def test_what_is_still_open_narrows_and_is_said_aloud(visit: Visit) -> None:
    """Outcomes and how much can still matter, in the strip and for those who do not see it."""
    visit.open("#ask=marking&edition=nfpa-70:2023")
    visit.choose(HAND)
    strip = visit.page.locator(".strip")
    expect(strip).to_contain_text("not required or required")
    before = int(re.findall(r"(\d+) things? can still matter", strip.inner_text())[0])
    visit.choose("I do not know")
    visit.choose("Living room")
    after = int(re.findall(r"(\d+) things? can still matter", strip.inner_text())[0])
    assert 0 < after < before
    said = f"Still possible: not required or required. {after} things can still matter."
    expect(visit.page.locator("#said")).to_have_text(said)


def test_an_answer_can_be_changed_later_and_back_takes_it_back(visit: Visit) -> None:
    """By its line, in place; the browser's own Back undoes it."""
    visit.open("#ask=marking&edition=nfpa-70:2023&o.switched=hand&o.else=no&o.room=office&o.plugged=office-machine")
    assert visit.outcomes()[0] == "Not required"
    visit.press("Switched by A wall switch, by hand. Change this answer.")
    expect(visit.page.get_by_role("button", name=HAND)).to_have_attribute("aria-pressed", "true")
    visit.choose("A time clock")
    visit.choose(TWENTY)
    assert visit.outcomes()[0] == "Required"
    visit.page.go_back()
    visit.settled()
    visit.page.go_back()
    visit.settled()
    visit.page.go_back()
    visit.settled()
    assert visit.outcomes()[0] == "Not required"


def test_where_nothing_is_known_it_says_so_and_where_to_look(visit: Visit) -> None:
    """No fact is assumed."""
    visit.open("#ask=marking&edition=nfpa-70:2023&o.switched=?&o.room=?&o.plugged=?&o.slots=?&contact.supply=?")
    while visit.asked():
        visit.choose("I do not know")
    assert visit.outcomes()[0] == "Cannot tell"
    expect(visit.page.locator("#answer")).to_contain_text("Where to look:")
    expect(visit.page.locator("#answer")).to_contain_text("Still possible: not required or required")


def test_a_number_is_asked_with_its_unit_and_a_wrong_one_refused(visit: Visit) -> None:
    """A sensor marked 15 A that feeds two receptacles is not enough behind a breaker of 20 A."""
    answers = {
        "Is the receptacle described the only one on the control?": "No",
        "Does a circuit feed the receptacle?": "Yes",
        "Does the control or its data sheet name a rating": "Yes",
        "Which receptacle is it?": "20 A, 125 V",
        "What is plugged in there?": "A lamp",
        "What current is the control rated for": "15",
        "What is the rating of the breaker": "20",
        "Is the receptacle described the only one on the circuit?": "No",
        "Does the circuit serve one receptacle": "No",
    }
    visit.open("#ask=control.rating.cord-and-plug&edition=nfpa-70:2023&o.kind=wall-sensor")
    refused = False
    while asked := visit.asked():
        answer = next(answer for question, answer in answers.items() if asked.startswith(question))
        figure = visit.page.locator("#figure")
        if not figure.count():
            visit.choose(answer)
            continue
        if not refused:
            figure.fill("a few")
            visit.tap(visit.page.get_by_role("button", name="Go on"))
            expect(visit.page.locator("#figure-fault")).to_contain_text("a few", timeout=WAIT)
            refused = True
        figure.fill(answer)
        visit.press("Go on")
    assert visit.outcomes() == ["Not satisfied"]
    assert refused
    visit.forgive_refusals()


def test_changing_the_place_shows_what_moves_and_leads_back(visit: Visit) -> None:
    """A plotter on a wall switch: the published code asks no mark, the invented city's ordinance does."""
    known = "o.switched=hand&o.else=no&o.room=office&o.plugged=office-machine&o.slots=20"
    visit.open(f"#ask=marking&edition=nfpa-70:2023&{known}")
    visit.whole()
    visit.tap(visit.page.locator("#answer").get_by_role("button", name="Change place, day or edition"))
    form = visit.page.locator("#change-here form")
    form.locator("select").select_option(ORDINANCE)
    form.locator("input[type=date]").fill("2024-10-15")
    visit.press("See what moves")
    expect(visit.page.locator("#moves")).to_be_focused()
    expect(visit.page.locator("#moves h2")).to_be_in_viewport()
    rows = visit.page.locator("#moves tbody tr")
    expect(rows.first).to_contain_text("Not required")
    expect(rows.first).to_contain_text("Required")
    # three of the four: the mark, the ordinary device, and what the mark consists of and where it sits
    expect(visit.page.locator(".moved")).to_have_text("4 answers of 4 move.")
    visit.page.get_by_role("button", name="Change place, day or edition").first.click()
    visit.page.locator("#law select").select_option(ORDINANCE)
    visit.page.locator("#law input[type=date]").fill("2022-10-15")
    visit.press("See what moves")
    assert visit.outcomes()[0] == "Not required"
    visit.press("Back to before")
    assert visit.outcomes()[0] == "Required"


def test_the_address_alone_brings_the_answer_back(visit: Visit) -> None:
    """Sent to somebody else it gives the same, with the answers in words."""
    known = "control.turns_off_by=presence&contact.supply=controlled&receptacle.configuration=5-20R"
    visit.open(f"#ask=marking&place=demo/tamarisk/brindle-falls&on=2024-10-15&{known}")
    assert visit.outcomes()[0] == "Required"
    expect(visit.page.locator(".strap")).to_contain_text("it senses that nobody is there")
    expect(visit.page.locator("#law")).to_contain_text("City of Brindle Falls (invented), Oct 15, 2024")


def test_text_in_an_address_stays_text(visit: Visit) -> None:
    """What an address says is data: no element comes of it and nothing runs."""
    hostile = "%3Cimg%20src%3Dx%20onerror%3Dalert(1)%3E"
    answers = f"o.switched={hostile}&o.room={hostile}&control.turns_off_by=?&{hostile}.{hostile}=?"
    visit.open(f"#ask=marking&edition=nfpa-70:2023&{answers}")
    expect(visit.page.locator(".strap")).to_contain_text("<img src=x onerror=alert(1)>")
    assert visit.page.locator("main img").count() == 0


def test_the_sheet_is_saved_as_a_page_and_as_data(visit: Visit, tmp_path: Path) -> None:
    """The page runs no script; the data can be ruled again and gives the same."""
    known = "o.switched=clock&o.slots=20&o.room=office&o.plugged=lamp&other=none"
    visit.open(f"#ask=marking&edition=nfpa-70:2023&{known}")
    visit.whole()
    html = _saved(visit, "Save as a page (HTML)", tmp_path)
    assert html.startswith("<!DOCTYPE html>") and "<script" not in html
    assert "Must this receptacle be marked as controlled?" in html
    assert "Ruling sheet: <bdi>Must this receptacle be marked?</bdi>" in html and "body.json" not in html
    # what was asked, and nothing that was not
    assert set(re.findall(r"\bR\d\d\b", html)) == {"R03", "R06", "R07", "R08"}
    sheet = json.loads(_saved(visit, "Save the sheet (JSON)", tmp_path))
    again = rule_again(sheet)
    assert [ruling.to_dict() for ruling in again] == sheet["rulings"]
    assert len(again) == 4
    assert "required" in [ruling.word for ruling in again if ruling.question == "marking.required"]


def _saved(visit: Visit, button: str, folder: Path) -> str:
    with visit.page.expect_download(timeout=WAIT) as waiting:
        visit.tap(visit.page.get_by_role("button", name=button))
    waiting.value.save_as(folder / "kept")
    return (folder / "kept").read_text(encoding="utf-8")


def test_on_paper_the_facts_and_all_cautions_stand_and_no_button(visit: Visit) -> None:
    """What is printed is the ruling sheet."""
    visit.open("#ask=marking&edition=nfpa-70:2023&o.switched=clock&o.slots=20&o.room=office&o.plugged=lamp")
    visit.whole()
    visit.page.emulate_media(media="print")
    expect(visit.page.locator(".ground .print-only")).to_contain_text("a clock or program")
    expect(visit.page.get_by_text("Medical, vaccine, alarm")).to_be_visible()
    expect(visit.page.locator(".strap")).to_contain_text("A time clock, or a timer with a program")
    expect(visit.page.locator(".given").first).to_be_visible()
    assert visit.page.locator("button:visible:not(.given), .given .change:visible, .strip:visible").count() == 0


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
    page.keyboard.type("2023 National Electrical Code")
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
