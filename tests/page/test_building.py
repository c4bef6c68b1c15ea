"""A whole building on the page: a file dropped or chosen, ruled on as one watches, and what comes of it."""

from __future__ import annotations

import json

from page.running import DEMO, WAIT, Visit
from playwright.sync_api import expect

#: One split duplex on a sensor with a sticker on its plate for a mark: the mark is not as it should be.
SMALL = """\
project: {name: "NAME", place: demo/tamarisk/brindle-falls, dates: {permit application: 2024-10-15}, stated_by: "NAME"}
complete: yes
spaces:
  - id: office
    name: "NAME"
    occupancy: office
    use: private office
    yokes:
      - id: R1
        location: "NAME"
        configuration: 5-20R
        device_type: duplex
        built_in_control: no
        contacts:
          - {id: upper, position: upper, supply: controlled, circuit: P/1, load: none, controls: [C1],
             mark: symbol and word, mark_place: plate, mark_permanent: no, mark_shows_contact: yes}
          - {id: lower, position: lower, supply: always on, circuit: P/1, load: none, controls: [], mark: none}
controls:
  - {id: C1, kind: ceiling sensor and relay, turns_off_by: presence, off_delay_min: 15 min, amps: 20, wired_loads: []}
circuits:
  - {id: P/1, breaker_amps: 20, volts: 120}
"""


def _open(visit: Visit, text: str, name: str = "shop.yaml") -> None:
    """Drops a project file and waits for the whole sheet."""
    visit.open("#view=building")
    dropped = visit.page.evaluate_handle(
        "([name, text]) => { const held = new DataTransfer(); held.items.add(new File([text], name)); return held; }",
        [name, text],
    )
    visit.page.dispatch_event(".drop", "drop", {"dataTransfer": dropped})
    expect(visit.page.locator(".counts")).to_be_visible(timeout=WAIT)
    visit.settled()


def _line(visit: Visit, asks: str) -> None:
    before = visit.page.url
    visit.tap(visit.page.locator(".list a", has_text=asks).first)
    expect(visit.page).not_to_have_url(before)
    expect(visit.page.locator(".face svg")).to_be_visible(timeout=WAIT)
    visit.settled()


def test_a_project_file_dropped_gives_its_sheet_worst_first(visit: Visit) -> None:
    """The mark on the plate is against the ordinance, which wants it on the face; its line leads to the whole reason."""
    _open(visit, SMALL.replace("NAME", "Shop"))
    expect(visit.page.locator("h1")).to_have_text("Shop")
    expect(visit.page.locator(".heap h2").first).to_contain_text("Against the code")
    _line(visit, "Does the mark that is there satisfy?")
    assert visit.outcomes() == ["Not satisfied"]
    expect(visit.page.locator("main")).to_contain_text("City of Brindle Falls" if False else "406.3(F)")
    expect(visit.page.locator(".face figcaption")).to_contain_text("Upper: controlled by C1")
    visit.page.go_back()
    visit.settled()
    expect(visit.page.locator(".counts")).to_be_visible()


def test_names_in_a_file_stay_text(visit: Visit) -> None:
    """Whatever stands in a project's words, no element comes of it, in list, detail, drawing or saved page."""
    hostile = "<img src=x onerror=alert(1)><script>alert(2)</script>"
    _open(visit, SMALL.replace("NAME", hostile), f"{hostile}.yaml".replace("/", ""))
    expect(visit.page.locator("h1")).to_have_text(hostile)
    _line(visit, "Does the mark that is there satisfy?")
    assert visit.page.locator("main img, main script").count() == 0
    visit.page.go_back()
    visit.settled()
    with visit.page.expect_download(timeout=WAIT) as waiting:
        visit.tap(visit.page.get_by_role("button", name="Save the ruling sheet (HTML)"))
    html = waiting.value.path().read_text(encoding="utf-8")
    assert "<script>" not in html and "<img" not in html and "&lt;img" in html


def test_a_schedule_is_read_through_its_mapping(visit: Visit) -> None:
    """First the schedule, which asks for its mapping, then both together."""
    visit.open("#view=building")
    file = visit.page.locator("#file")
    file.set_input_files(DEMO / "brindle-falls-devices.csv")
    expect(visit.page.locator(".fault")).to_contain_text("Now choose the mapping file")
    file.set_input_files(DEMO / "brindle-falls-devices.mapping.yaml")
    expect(visit.page.locator(".counts")).to_be_visible(timeout=WAIT)
    expect(visit.page.locator("h1")).to_have_text("Copper Kettle Annex, three rooms (invented)")


def test_a_file_with_faults_is_refused_with_every_line(visit: Visit) -> None:
    """Each fault with file, line and column; nothing is ruled on."""
    visit.open("#view=building")
    visit.page.locator("#file").set_input_files(
        {"name": "wrong.yaml", "mimeType": "text/yaml", "buffer": SMALL.replace("5-20R", "5-21R").encode()}
    )
    expect(visit.page.locator(".fault")).to_contain_text("wrong.yaml:10:", timeout=WAIT)
    expect(visit.page.locator(".fault")).to_contain_text("5-21R")
    # the browser itself reports every refusal that it is answered
    visit.faults = [fault for fault in visit.faults if "422" not in fault]


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
    """As published in 2014 the plate is allowed; the ordinance of 2024 asks for the face."""
    _open(visit, json.dumps(_as_json()), "shop.json")
    visit.tap(visit.page.get_by_role("button", name="Change place, day or edition"))
    visit.page.locator("#where").select_option("edition nfpa-70:2014")
    visit.press("See what moves")
    expect(visit.page.locator("#moves")).to_be_visible(timeout=WAIT)
    moved = visit.page.locator("#moves tbody tr", has_text="Where must the mark sit?").first
    expect(moved).to_contain_text("Before: ")
    expect(moved.locator("td").nth(0)).to_have_text("Face")
    expect(moved.locator("td").nth(1)).to_have_text("Outlet or plate")


def _as_json() -> object:
    import yaml

    return json.loads(json.dumps(yaml.safe_load(SMALL.replace("NAME", "Shop")), default=str))
