"""What a person met who used the page for the first time, and what has to hold so that the next one does not."""

from __future__ import annotations

from playwright.sync_api import expect

from page.running import WAIT, Visit

SENSOR = "#ask=marking&edition=nfpa-70:2023&o.switched=sensor"


def test_a_code_by_itself_is_seen_whole_and_no_code_is_offered_that_says_nothing(visit: Visit) -> None:
    """A narrow list shows the year first; for a mark there are electrical codes only."""
    visit.open("#ask=marking")
    shown = visit.page.locator("#where optgroup:not([label^=Places]):not([label^=Invented]) option").all_inner_texts()
    assert [text.split()[0] for text in shown] == ["2026", "2023", "2020", "2017", "2014"]
    visit.tap(visit.page.get_by_role("button", name="Go on"))
    expect(visit.page.locator("#where-fault")).to_contain_text("Choose the place first")
    visit.page.locator("#where").select_option("edition nfpa-70:2023")
    expect(visit.page.locator("#where-fault")).to_be_empty()
    expect(visit.page.locator(".law-form")).to_contain_text("without what a state or city has changed in it")


def test_a_place_whose_codes_say_nothing_is_told_before_anything_is_asked(visit: Visit) -> None:
    """And one can choose another there and then."""
    visit.open("#ask=marking&edition=iecc:2024")
    expect(visit.page.locator("#now")).to_have_text("No code there answers this")
    visit.press("Choose another place or code")
    expect(visit.page.locator("#where")).to_be_visible()
    visit.forgive_refusals()


def test_where_no_law_is_entered_it_is_said_at_once_and_once(visit: Visit) -> None:
    """Four questions that nobody can answer are one answer."""
    visit.open("#ask=marking&place=us/ak&on=2013-01-01")
    assert visit.asked() == ""
    assert visit.outcomes() == ["No adoption entered"]
    visit.forgive_refusals()


def test_what_is_not_known_is_not_asked_once_more_in_other_words(visit: Visit) -> None:
    """Three times "I do not know" is the end; what there is to find out stands below."""
    visit.open("#ask=marking&edition=nfpa-70:2023&o.switched=?&o.room=?&o.slots=?")
    assert visit.asked() == ""
    assert visit.outcomes() == ["Cannot tell"]
    expect(visit.page.locator("#answer")).to_contain_text("Which configuration is the receptacle")


def test_no_answer_is_told_for_another_question_of_the_same_set(visit: Visit) -> None:
    """A sensor may feed a receptacle; whether it is big enough is asked too, and "permitted" is no answer to that."""
    listed = "#ask=control&edition=nfpa-70:2023&o.kind=wall-sensor&control.listed_for.receptacle_loads=yes"
    visit.open(listed)
    expect(visit.page.locator(".open")).to_contain_text("This is for: Is this control rated for")
    strip = visit.page.locator(".strip")
    expect(strip).to_contain_text("Still possible:")
    expect(strip).not_to_contain_text("Permitted")
    visit.open(listed.replace("receptacle_loads=yes", "receptacle_loads=no"))
    expect(strip).to_contain_text("Not permitted")
    assert visit.outcomes()[0] == "Not permitted"


def test_a_question_without_questions_of_its_own_begins_too(visit: Visit) -> None:
    """One that needs no fact is answered at once, any other asks for its first."""
    visit.open("#ask=half&edition=nfpa-70:2023")
    assert visit.outcomes() == ["Either half"]
    visit.open("#ask=receptacle.horsepower&edition=nfpa-70:2023")
    assert visit.asked() != ""
    assert visit.page.locator(".open .choice").count() > 1


def test_no_choice_contradicts_what_was_answered(visit: Visit) -> None:
    """A sensor is no dimmer and no time clock; and an answer that no longer goes with another is asked anew."""
    visit.open(f"{SENSOR}&o.room=living&o.lights=no&o.slots=15")
    assert visit.asked() == "What kind of control is it?"
    assert visit.page.locator(".open .choice").all_inner_texts() == [
        "Sensor in the wall box",
        "Ceiling sensor with a relay or power pack",
        "Relay or contactor panel",
        "Another kind",
        "I do not know",
    ]
    visit.choose("Sensor in the wall box")
    visit.press("Switched by An occupancy or vacancy sensor. Change this answer.")
    visit.choose("A time clock")
    given = visit.page.locator(".strap").inner_text()
    assert "A time clock" in given
    assert "Sensor in the wall box" not in given and "ceiling or wall light" not in given.lower()


def test_a_reason_that_turns_on_what_is_not_said_is_not_told_as_the_reason(visit: Visit) -> None:
    """A wall switch in a living room: no mark, with or without another light. Only one who says that there is none is
    told of the exception as the reason."""
    known = "#ask=marking&edition=nfpa-70:2023&o.switched=hand&o.else=no&o.room=living"
    visit.open(known)
    why = visit.page.locator(".why").first
    expect(why).to_contain_text("Whatever else turns out, it comes to this. One way to it:")
    expect(visit.page.locator(".open")).to_contain_text("The answer stands already.")
    visit.open(f"{known}&o.lights=no&o.plugged=lamp")
    expect(why).to_contain_text("stands in for the room's required lighting outlet")
    expect(why).not_to_contain_text("Whatever else")
    answer = visit.page.locator(".ruling.big")
    # not asked for twice over: the switch is worked by hand, and the exception would fit too
    expect(answer).to_contain_text("Is this control automatic? Manual.", timeout=WAIT)
    expect(answer).to_contain_text("This is the code by itself.")
    otherwise = "Perhaps required if “Switched by” were “An occupancy or vacancy sensor”"
    expect(answer.locator(".would")).to_contain_text(otherwise, timeout=WAIT)
    expect(visit.page.locator(".face figcaption")).to_contain_text("controlled by a wall switch, by hand,")
    expect(visit.page.locator(".face figcaption")).to_contain_text("plugged in: lamp; ")


def test_a_connection_that_is_lost_is_called_that_and_tried_again(visit: Visit) -> None:
    """The answer given is not lost."""
    visit.open("#ask=marking&edition=nfpa-70:2023")
    visit.page.context.set_offline(True)
    visit.choose("An occupancy or vacancy sensor")
    expect(visit.page.locator("#now")).to_have_text("No answer came")
    visit.page.context.set_offline(False)
    visit.tap(visit.page.get_by_role("button", name="Try again"))
    expect(visit.page.locator("#now")).to_have_text("What kind of room is it in?", timeout=WAIT)
    visit.faults = [fault for fault in visit.faults if "ERR_INTERNET_DISCONNECTED" not in fault]
