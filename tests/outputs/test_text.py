"""The default text: what a reader must find, and that nothing which must be said is left out."""

from __future__ import annotations

import ruling_data as data
from yokebook_adapters.text import render


def section(text: str, title: str) -> str:
    """The part of the text under a title in capitals, up to the next one."""
    lines = text.split("\n")
    start = next(i for i, line in enumerate(lines) if line.startswith(title))
    end = next((i for i in range(start + 1, len(lines)) if lines[i][:1].isupper() and lines[i][:5].isupper()), None)
    return "\n".join(lines[start:end])


def one_line(text: str) -> str:
    return " ".join(text.split())


def test_header_names_project_place_date_and_edition():
    text = render(data.report(data.REQUIRED))
    assert text.split("\n")[:3] == [
        "Invented shop (shop.yaml)",
        "City of Brindle Falls; permit application 2024-10-15",
        "Electrical: National Electrical Code, 2023 edition, with BF-1",
    ]


def test_a_finding_whole():
    assert section(render(data.report(data.OFF_TOO_LATE)), "AGAINST").rstrip() == (
        "AGAINST (1)\n"
        "\n"
        "Not in one room\n"
        "  K1: not satisfied - it goes off too late [R23]\n"
        "    Asked: Does it go off soon enough?\n"
        "    Law: National Electrical Code, 2023 edition, 404.14\n"
        "    Numbers: the control can carry the load: 2,040 W > 1,800 W by 240 W\n"
        "    Numbers: power of what is plugged in: 2,040 W = 1,440 W + 600 W\n"
        "    Why: It carries more than it can."
    )


def test_same_outcomes_in_a_room_share_a_line_and_name_the_amendment():
    text = section(render(data.report(data.NOT_SATISFIED, data.SAME_NEXT_DOOR)), "AGAINST")
    assert "R1 upper and R2 upper: not satisfied - the mark that is there does not do [R60]" in text
    assert text.count("not satisfied") == 1
    assert "406.3(F); amended by BF-1" in text


def test_same_outcome_in_another_room_or_for_another_reason_stands_apart():
    other_room = data.SAME_NEXT_DOOR | {"room": "break room"}
    other_reason = data.SAME_NEXT_DOOR | {"standing": [data.standing("x#y", "not satisfied", "the mark is worn", "1")]}
    for other in (other_room, other_reason):
        text = section(render(data.report(data.NOT_SATISFIED, other)), "AGAINST")
        assert text.count(": not satisfied") == 2


def test_found_limit_and_margin_of_a_number():
    cells = [data.cell("control.off_delay_min", "K1", "30 min", "over 20 min")]
    late = data.OFF_TOO_LATE | {
        "figures": [],
        "standing": [data.standing("off#late", "not satisfied", "it waits too long", "8.4.2") | {"cells": cells}],
    }
    text = render(data.report(late, inputs={"control.off_delay_min": "How long the power stays on."}))
    assert "Numbers: How long the power stays on: 30 min, which is over 20 min by 10 min" in text


def test_against_comes_first_then_the_unsettled_then_counts_then_cautions():
    text = render(data.report(*reversed(data.EVERY_KIND)))
    titles = [
        "\nAGAINST",
        "\nFAULT OF THE RULEBOOK",
        "\nIMPOSSIBLE AS GIVEN",
        "\nREADINGS DIFFER",
        "\nCANNOT TELL",
        "\nNOT CHECKED IN THIS EDITION",
        "\nNO ADOPTION ENTERED",
        "\nSETTLED, BUT ALSO HELD",
        "\nWHAT TO FIND OUT",
        "\nCOUNTS",
        "\nCAUTIONS",
    ]
    places = [text.index(title) for title in titles]
    assert places == sorted(places)


def test_also_held_is_on_the_same_line_as_the_outcome():
    text = one_line(render(data.report(data.ALSO_HELD)))
    assert (
        "R2 upper: not required - no mark is required; also held: required (any switch counts but for lighting; "
        "common practice, no published source found) [R03]"
    ) in text


def test_each_published_reading_has_its_outcome_and_somebody_to_ask():
    text = one_line(section(render(data.report(data.READINGS_DIFFER)), "READINGS DIFFER"))
    assert "`actual`: the breaker that is there (held by an invented body): satisfied." in text
    assert "`largest`: the largest breaker allowed there: not satisfied." in text
    assert "Ask the Brindle Falls building counter: Which breaker does the clause mean?" in text


def test_what_cannot_be_told_says_what_is_possible_and_what_to_ask_and_where_to_look():
    text = one_line(render(data.report(data.CANNOT_TELL)))
    assert "S1: cannot tell, could be satisfied or not satisfied [R12]" in text
    assert "Needed: What current is the control rated for? (S1)" in text
    assert "What current is the control rated for? (S1) Look: The nameplate. (1 ruling waits: R12)" in text


def test_a_missing_fact_is_listed_once_with_every_ruling_that_waits():
    other = data.CANNOT_TELL | {"ruling": "R13", "question": "switch.load"}
    text = one_line(section(render(data.report(data.CANNOT_TELL, other)), "WHAT TO FIND OUT"))
    assert "WHAT TO FIND OUT (1)" in text
    assert "(2 rulings wait: R12, R13)" in text


def test_not_checked_and_memory_are_said():
    text = one_line(render(data.report(data.WOULD_BE, data.ON_MEMORY)))
    assert "would be not satisfied - the mark that is there does not do; not checked in this edition [R60]" in text
    assert "Not read in this edition: marking.satisfied#none" in text
    assert "settled: 1 satisfied (1 rest on memory)" in text


def test_default_counts_what_all_lists():
    report = data.report(data.SATISFIED, data.DOES_NOT_ARISE)
    brief, full = render(report), render(report, everything=True)
    assert "SETTLED" not in brief and "--all lists them" in brief
    assert "R1: satisfied - the rating is right [R33] Is the receptacle's rating right for the circuit?" in full
    assert "DOES NOT ARISE (1)" in full


def test_amendments_that_may_be_missing_are_said_with_the_office_to_ask():
    document = data.DOCUMENT | {"amendments_entered": "not looked for"}
    text = one_line(render(data.report(data.NOT_SATISFIED | {"document": document})))
    assert text.count("ther amendments of this place may exist") == 2  # above, and at the ruling
    assert "ask the Brindle Falls building counter" in text


def test_refused_input_is_listed_beside_what_could_be_ruled():
    text = render(data.report(data.REQUIRED, refused=["shop.yaml:3:5: `Ampere` is not a unit"]))
    assert "REFUSED (1 fault of the input; nothing was ruled on these)\n  shop.yaml:3:5: `Ampere` is not a unit" in text


def test_narrow_screens_and_ascii():
    report = data.report(*data.EVERY_KIND)
    for width in (40, 80, 100):
        text = render(report, width=width)
        assert max(map(len, text.split("\n"))) <= width
        assert text.isascii()


def test_the_same_report_gives_the_same_text():
    assert render(data.report(*data.EVERY_KIND)) == render(data.report(*data.EVERY_KIND))
