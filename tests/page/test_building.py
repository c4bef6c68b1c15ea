"""A whole building on the page: a file dropped or chosen, ruled on as one watches, and what comes of it."""

from __future__ import annotations

import json

import pytest
from playwright.sync_api import Route, expect

from page.running import DEMO, WAIT, Visit
from page.small_shop import SMALL


def test_a_project_file_dropped_gives_its_sheet_worst_first(visit: Visit) -> None:
    """The mark on the plate is against the ordinance, which wants it on the face; its line leads to the reason."""
    visit.drop(SMALL.replace("NAME", "Shop"))
    expect(visit.page.locator("h1")).to_have_text("Shop")
    expect(visit.page.locator(".heap h2").first).to_contain_text("Against the code")
    visit.line("Does the mark that is there satisfy?")
    assert visit.outcomes() == ["Not satisfied"]
    expect(visit.page.locator("main")).to_contain_text("The mark is not where it must be")
    expect(visit.page.locator(".face figcaption")).to_contain_text("Upper: controlled by C1")
    visit.page.go_back()
    visit.settled()
    expect(visit.page.locator(".counts")).to_be_visible()


def test_names_in_a_file_stay_text(visit: Visit) -> None:
    """Whatever stands in a project's words, no element comes of it, in list, detail, drawing or saved page."""
    hostile = "<img src=x onerror=alert(1)><script>alert(2)</script>"
    visit.drop(SMALL.replace("NAME", hostile), f"{hostile}.yaml".replace("/", ""))
    expect(visit.page.locator("h1")).to_have_text(hostile)
    visit.line("Does the mark that is there satisfy?")
    assert visit.page.locator("main img, main script").count() == 0
    visit.page.go_back()
    visit.settled()
    with visit.page.expect_download(timeout=WAIT) as waiting:
        visit.tap(visit.page.get_by_role("button", name="Save the ruling sheet (HTML)"))
    html = waiting.value.path().read_text(encoding="utf-8")
    assert "<script>" not in html and "<img" not in html and "&lt;img" in html


@pytest.mark.parametrize(
    ("schedule", "mapping"),
    [
        ("brindle-falls-devices.csv", "brindle-falls-devices.mapping.yaml"),
        ("brindle-falls-devices.xlsx", "brindle-falls-workbook.mapping.yaml"),
    ],
)
def test_a_schedule_is_read_through_its_mapping(visit: Visit, schedule: str, mapping: str) -> None:
    """First the schedule, which asks for its mapping, then both together."""
    visit.open("#view=building")
    file = visit.page.locator("#file")
    file.set_input_files(DEMO / schedule)
    expect(visit.page.locator(".next")).to_contain_text("Now choose the mapping file")
    file.set_input_files(DEMO / mapping)
    expect(visit.page.locator(".counts")).to_be_visible(timeout=WAIT)
    expect(visit.page.locator("h1")).to_have_text("Copper Kettle Annex, three rooms (invented)")


def test_a_file_with_faults_is_refused_with_every_line(visit: Visit) -> None:
    """Each fault with file, line and column; nothing is ruled on."""
    visit.open("#view=building")
    visit.page.locator("#file").set_input_files(
        {"name": "wrong.yaml", "mimeType": "text/yaml", "buffer": SMALL.replace("5-20R", "5-21R").encode()}
    )
    expect(visit.page.locator(".fault")).to_contain_text("wrong.yaml:11:24", timeout=WAIT)
    expect(visit.page.locator(".fault")).to_contain_text("5-21R")
    visit.forgive_refusals()


def test_what_is_no_text_is_refused_in_words(visit: Visit) -> None:
    """A photograph of the plan, say."""
    visit.open("#view=building")
    visit.page.locator("#file").set_input_files(
        {"name": "plan.png", "mimeType": "image/png", "buffer": b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR"}
    )
    expect(visit.page.locator(".fault")).to_contain_text("plan.png is not read as text. A project is a YAML or JSON")


def test_a_reload_keeps_what_is_open_and_another_file_lets_it_go(visit: Visit) -> None:
    """As long as the tab is open; nothing is kept beyond."""
    visit.drop(SMALL.replace("NAME", "Shop"))
    visit.page.reload()
    expect(visit.page.locator("h1")).to_have_text("Shop", timeout=WAIT)
    expect(visit.page.locator(".counts")).to_be_visible()
    visit.tap(visit.page.get_by_role("button", name="Another file"))
    expect(visit.page.locator("#now")).to_have_text("Which file?")
    assert visit.page.evaluate("sessionStorage.length + localStorage.length") == 0


def test_back_from_one_ruling_leads_to_its_line(visit: Visit) -> None:
    """The list is long; one goes on where one was."""
    visit.drop(SMALL.replace("NAME", "Shop"))
    line = visit.page.locator(".list a").nth(4)
    says, address = line.inner_text(), line.get_attribute("href")
    visit.tap(line)
    expect(visit.page.locator(".ruling.big")).to_be_visible(timeout=WAIT)
    visit.page.get_by_role("button", name="Back to the list").tap()
    expect(visit.page.locator(".counts")).to_be_attached(timeout=WAIT)
    focused = visit.page.locator("a:focus")
    expect(focused).to_have_attribute("href", address or "")
    expect(focused).to_be_in_viewport()
    assert focused.inner_text() == says


def test_long_work_shows_how_far_it_is_and_can_be_cancelled(visit: Visit) -> None:
    """The demo building has 798 rulings; cancelled, nothing of them is kept, and it can be done again."""
    visit.open("#view=building")
    visit.page.locator("#file").set_input_files(DEMO / "brindle-falls.yaml")
    working = visit.page.locator(".working")
    expect(working).to_contain_text("of 798 rulings on 18 devices", timeout=WAIT)
    visit.page.locator("#cancel").tap()
    expect(visit.page.locator("h1")).to_have_text("Cancelled")
    expect(visit.page.locator("main")).to_contain_text("are thrown away")
    expect(visit.page.locator("h1")).to_be_focused()


def test_another_edition_shows_which_rulings_move(visit: Visit) -> None:
    """As published in 2014 the symbol is enough; the ordinance of 2024 asks for the word too."""
    visit.drop(json.dumps(_as_json()), "shop.json")
    visit.tap(visit.page.get_by_role("button", name="Change place, day or edition"))
    visit.page.locator("#where").select_option("edition nfpa-70:2014")
    visit.press("See what moves")
    expect(visit.page.locator("#moves")).to_be_visible(timeout=WAIT)
    moved = visit.page.locator("#moves tbody tr", has_text="What must the mark consist of?").first
    expect(moved.locator("td").nth(0)).to_have_text("Symbol and word")
    expect(moved.locator("td").nth(1)).to_have_text("Symbol")


def test_the_counts_lead_to_what_they_count_and_a_button_to_the_end(visit: Visit) -> None:
    """Settled rulings are folded away until one asks for them."""
    visit.drop(SMALL.replace("NAME", "Shop"))
    page = visit.page
    visit.tap(page.locator(".counts").get_by_role("button", name="Settled", exact=True))
    expect(page.locator("[data-heap=settled] .list a").first).to_be_visible()
    expect(page.locator("[data-heap=settled] summary")).to_be_in_viewport()
    visit.tap(page.get_by_role("button", name="Print, save, change the place"))
    expect(page.locator("#actions").get_by_role("button", name="Print this")).to_be_in_viewport()


def test_the_sheet_that_is_kept_names_the_file(visit: Visit) -> None:
    """And says when it is made; that it takes time is no fault."""
    visit.drop(SMALL.replace("NAME", "Shop"), "corner-shop.yaml")
    with visit.page.expect_download(timeout=WAIT) as waiting:
        visit.tap(visit.page.get_by_role("button", name="Save the ruling sheet (HTML)"))
    assert waiting.value.suggested_filename == "corner-shop.html"
    assert "corner-shop.yaml" in waiting.value.path().read_text(encoding="utf-8")
    expect(visit.page.locator("#actions [role=status]")).to_have_text("It is made, and offered to keep.")
    expect(visit.page.locator("#actions .fault")).to_have_count(0)


def test_a_sheet_that_takes_too_long_is_kept_without_what_would_change_it(visit: Visit) -> None:
    """As the service refuses it where it would take more time than it allows itself; the second time it does not."""
    visit.drop(SMALL.replace("NAME", "Shop"))
    asked: list[bool] = []

    def once(route: Route) -> None:
        asked.append(json.loads(route.request.post_data or "{}").get("changes", True))
        problem = {"type": "/v1/problems/too-long", "title": "The ruling was stopped", "status": 422}
        if asked[-1]:
            route.fulfill(status=422, content_type="application/problem+json", body=json.dumps(problem))
        else:
            route.continue_()

    visit.page.route("**/v1/projects/print", once)
    with visit.page.expect_download(timeout=WAIT) as waiting:
        visit.tap(visit.page.get_by_role("button", name="Save the ruling sheet (HTML)"))
    assert asked == [True, False]
    assert "was not worked out for this sheet" in waiting.value.path().read_text(encoding="utf-8")
    expect(visit.page.locator("#actions [role=status]")).to_contain_text("What would change each finding is not in it")
    visit.forgive_refusals()


def test_the_amendment_is_told_with_what_the_code_alone_says(visit: Visit) -> None:
    """A plotter on a wall switch: the ordinance asks for a mark, the code by itself does not."""
    known = "o.switched=hand&o.else=no&o.room=office&o.plugged=office-machine&o.slots=20"
    visit.open(f"#ask=marking&place=demo/tamarisk/brindle-falls&on=2024-10-15&{known}")
    change = visit.page.locator(".ruling.big .would")
    expect(change).to_contain_text(
        "Without BF-1, BF-2 and BF-4, by the 2023 National Electrical Code (NFPA 70) alone: Not required.", timeout=WAIT
    )
    expect(visit.page.locator(".amended")).to_have_count(3)
    expect(visit.page.locator(".amended").nth(2)).to_have_text("Local amendment BF-1, as above.")


def _as_json() -> object:
    import yaml

    return json.loads(json.dumps(yaml.safe_load(SMALL.replace("NAME", "Shop")), default=str))
