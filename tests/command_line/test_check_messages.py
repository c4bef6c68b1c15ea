"""What `yokebook check` prints, word by word: to somebody who wrote a draft and knows neither YAML's parser nor the
rulebook's insides."""

from __future__ import annotations

from pathlib import Path

import pytest

from command_line.running import Command, Ran
from proof.clean_book import TOWN, written
from small_rulebook import FILES
from stale.small_city import MARKING, edit, made
from yokebook.proof.findings import Finding, Report
from yokebook_adapters.check_text import as_text

#: A draft of the town: on a controlled supply no mark is required, which the rule on what is automatic contradicts.
DRAFT = """\
place: town
name: Town
office: the counter
demo: yes
lines:
  electrical:
    - {id: E0, not_entered: nothing before 2015 is entered}
    - id: E1
      event: permit application
      on_or_after: 2015-01-01
      adopts: {document: code, edition: "2014", layers: [next]}
      amendments: all entered
      source: invented
layers:
  next:
    amendments:
      - id: T-2
        says: What is controlled is not marked.
        cite: {document: Town draft, section: "2"}
        checked: {seen: the draft}
        ops:
          - add: marking.required#controlled
            where: {contact.supply: controlled}
            then: not required
            says: What is controlled is not marked.
"""


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def of_draft(command: Command, text: str, *options: str) -> Ran:
    """The check of a draft of the small rulebook's town."""
    written(Path())
    Path("draft.yaml").write_text(text, encoding="utf-8")
    return command("check", "draft.yaml", "--rulebook", "book", *options)


class TestDraft:
    def test_a_conflict_says_what_to_write_where(self, command: Command) -> None:
        """The draft's own rule takes the other into its `exception_to`; the rule below, which a layer cannot write,
        prevails by an op. Both speak where the supply is controlled and something acts by itself within 20 min."""
        ran = of_draft(command, DRAFT)
        assert ran.status == 3
        first, _, rest = ran.out.partition("\n\n")
        before, _, after = first.partition("  For example room/R1/a, with\n")
        record, _, repairs = after.partition("  To mend it:\n")
        assert before == """\
error: conflict in marking.required (town E1)
  draft.yaml:22:13
  `marking.required#controlled` says not required and `marking.required#automatic` says required of
    the same record, and neither prevails.
  Rules:
    marking.required#controlled: not required, T-2, draft.yaml:22:13
      What is controlled is not marked. (Town draft, 2)
    marking.required#automatic: required, code 2014, book/electrical/2014/marking.required.yaml:4:5
      What is switched by itself is marked. (code, 1)
  Wherever:
    contact.supply: controlled
    contact.slowest_min: at least 0 min and at most 20 min or not applicable
    contact.automatic: yes
"""
        things = dict(line.strip().split(": ", 1) for line in record.splitlines())
        assert things["room/R1/a"] == "contact.supply controlled"
        facts = dict(fact.split(" ", 1) for fact in things["control1"].split(", "))
        assert facts["control.kind"] == "sensor" and int(facts["control.delay_min"].removesuffix(" min")) <= 20
        assert repairs == """\
    - Say which prevails: put `automatic` into the `exception_to` of `marking.required#controlled`;
      or `prevails_over: marking.required#automatic` with `over: [marking.required#controlled]` as
      an op of its own.
    - Narrow `marking.required#controlled` or `marking.required#automatic` so that they do not meet."""
        assert "\n`draft.yaml` stands in for the rulebook's own file of town; what it leaves out is gone.\n" in rest

    @pytest.mark.parametrize(
        ("mended", "errors"),
        [
            (DRAFT.replace("            where:", "            exception_to: [automatic]\n            where:"), []),
            (  # an op on a rule below has to be pinned before it can be in force
                DRAFT + "          - prevails_over: marking.required#automatic\n"
                "            over: [marking.required#controlled]\n",
                ["error: missing pin"],
            ),
        ],
    )
    def test_done_as_it_says_the_conflict_is_gone(self, command: Command, mended: str, errors: list[str]) -> None:
        ran = of_draft(command, mended)
        assert [line for line in ran.out.splitlines() if line.startswith("error: ")] == errors

    def test_a_layer_that_nothing_adopts(self, command: Command) -> None:
        ran = of_draft(command, DRAFT.replace(", layers: [next]", ""))
        assert ran.status == 0
        assert ran.out.partition("\n\n")[0] == """\
warning: layer never adopted
  draft.yaml:15:3
  No entry adopts layer `next`, so it is never in force, and its rules were not looked at.
  To mend it:
    - Name it in the entry that it belongs to: `layers: [next]` in its `adopts`."""

    def test_one_that_another_place_adopts_is_adopted(self, command: Command) -> None:
        other = DRAFT.partition("layers:\n")[0].replace("place: town", "place: village")
        other = other.replace("[next]", "[town#next]")
        written(Path())
        Path("book/places/village.yaml").write_text(other, encoding="utf-8")
        Path("draft.yaml").write_text(DRAFT.replace(", layers: [next]", ""), encoding="utf-8")
        assert "layer never adopted" not in command("check", "draft.yaml", "--rulebook", "book").out

    def test_a_place_that_does_not_exist_yet(self, command: Command) -> None:
        ran = of_draft(command, DRAFT.replace("place: town", "place: village"))
        assert "(village E1)" in ran.out
        assert "\n`draft.yaml` is of village, a place that the rulebook does not have yet.\n" in ran.out

    def test_a_file_of_the_rulebook_is_no_draft(self, command: Command) -> None:
        written(Path())
        assert "stands in" not in command("check", f"book/{TOWN}", "--rulebook", "book").out


def unreadable(at: str, says: str) -> str:
    return f"error: fault in a file\n  {at}\n  {says}\n\n1 error; until the files can be read, no table is looked at.\n"


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (
            "            then: not required\n",
            "\t    then: not required\n",
            unreadable("draft.yaml:24:1", "This is not YAML: a tab stands here; indent with spaces."),
        ),
        (
            "            then: not required\n",
            "          then: not required\n",
            unreadable(
                "draft.yaml:24:11",
                "This is not YAML: in the list that begins in line 22, this line begins in another column than the\n"
                "    lines that it belongs with; indent it as they are.",
            ),
        ),
        (
            "            then: not required\n",
            "              then: not required\n",
            unreadable(
                "draft.yaml:24:15",
                "This is not YAML: among the keys that begin in line 22, this line begins in another column than\n"
                "    the lines that it belongs with; indent it as they are.",
            ),
        ),
        (
            'section: "2"',
            "section: 2",
            unreadable(
                "draft.yaml:19:47",
                "`section` of `cite` of the amendment `T-2`: `2` reads as a number where text is due; put it in\n"
                "    quotes.",
            ),
        ),
        (
            "where: {contact.supply: controlled}",
            "where: {contact.supply: controlled",
            unreadable(
                "draft.yaml:24:17",
                "This is not YAML: inside the `{` of line 23, a colon stands here where a comma or `}` is due; is a\n"
                "    `}` missing before it?",
            ),
        ),
        (
            "place: town\n",
            "",
            unreadable(
                "draft.yaml:1:1",
                "A draft of a place says which place it is: `place:` with the place's id is missing.",
            ),
        ),
    ],
)
def test_a_slip_of_the_pen(command: Command, old: str, new: str, message: str) -> None:
    assert DRAFT.count(old) == 1
    ran = of_draft(command, DRAFT.replace(old, new))
    assert (ran.status, ran.out) == (3, message)


@pytest.mark.parametrize(
    ("argument", "message"),
    [
        ("nowhere.yaml", "there is no file `nowhere.yaml`"),
        ("county/town", "there is no file `county/town`; to look at the place, give `--place county/town`"),
        ("county/twon", "there is no file `county/twon`"),
        ("book", "`book` is a folder; give a file"),
        ("--place=twon", "no place `twon` in this rulebook (did you mean `town`?)"),
        ("--place=elsewhere", "no place `elsewhere` in this rulebook; `yokebook places` lists them"),
    ],
)
def test_what_is_not_there(command: Command, argument: str, message: str) -> None:
    within = FILES[TOWN].replace("place: town", "place: county/town")
    written(Path(), {"places/county/town.yaml": within}, pinned=False)
    Path("book/places/county/town.yaml").write_text(within.partition("layers:\n")[0].replace(", layers: [town-1]", ""))
    ran = command("check", argument, "--rulebook", "book")
    assert (ran.status, ran.out, ran.err) == (2, "", f"yokebook: {message}\n")


def test_help_says_what_the_exit_status_means_and_fits_the_terminal(command: Command) -> None:
    ran = command("check", "--help")
    assert ran.status == 0
    assert "exit status:\n  0  no errors; there may be warnings and notes\n" in ran.out
    assert max(len(line) for line in ran.out.splitlines()) <= 80


class TestStalePin:
    """Each part that moved with what it was and is on lines of their own; each effect with its region as a list."""

    def test_whole(self, command: Command) -> None:
        root = made(Path("book"))
        edit(root, MARKING, "where: {contact.supply: controlled}", "where: {contact.supply: [controlled, always on]}")
        ran = command("check", "--rulebook", "book", "--place", "city")
        assert ran.status == 3
        told = next(part for part in ran.out.split("\n\n") if "`replace` of" in part)
        head, _, rest = told.partition("  Moved: ")
        assert head.startswith("error: stale pin in marking.required (city E)\n  book/places/city.yaml:")
        says = " ".join(head.split())
        assert "`replace` of `marking.required#automatic` (BF-1) has the pin `" in says
        assert says.endswith(
            "now. Moved: `where`. Below the layer outcomes change; with the amendment in place no outcome changes."
        )
        moved, _, _ = rest.partition("  Rules:\n")
        assert moved == """\
`where`
    was: contact.supply is controlled
    is: contact.supply is always on or controlled
  Below the layer outcomes change:
    `marking.required` was not required and is required wherever
      contact.delay_min: at least 0 min and at most 20 min
      contact.supply: always on
  With the amendment in place no outcome changes.
"""
        assert "  Wherever:" not in told  # the effects say it
        assert "    BF-1, book/places/city.yaml:" in told

    def test_a_part_that_was_not_there_and_a_record_in_the_place_of_a_region(self, command: Command) -> None:
        root = made(Path("book"))
        new = (
            "  - id: new\n    where: {contact.use: desk}\n    then: required\n    says: at a desk it is marked\n"
            '    cite: {document: nfpa-70, section: "9"}\n    checked: {memory: a test}\n'
        )
        edit(root, MARKING, "  - id: slow\n", f"{new}  - id: slow\n")
        ran = command("check", "--rulebook", "book", "--place", "city")
        told = next(part for part in ran.out.split("\n\n") if "`sign.needed#marked` (BF-1)" in part)
        assert """\
  Moved: `marking.required#new`
    was: not there
    is: where contact.use is desk: required
""" in told
        assert "`sign.needed` was none and is sign in the example below\n" in told


def test_names_are_those_that_are_printed_and_of_the_record_too(command: Command) -> None:
    """The region names three inputs, and the record's facts lie behind two of them."""
    ran = of_draft(command, DRAFT)
    names = ran.out.partition("\nNAMES\n")[2].partition("\n\n")[0]
    assert sorted(names.splitlines()) == [
        "  contact.automatic: Something switches it by itself.",
        "  contact.slowest_min: The longest wait.",
        "  contact.supply: Whether anything switches it.",
        "  control.delay_min: How long it waits.",
        "  control.kind: What it is.",
    ]


def test_notes_that_no_record_shows_are_no_alarm() -> None:
    """A conflict that is only a note is one of which no record was found; the count says so."""
    unshown = Finding("conflict", "note", "so it is", reachable="not shown")
    notes = (unshown, unshown, Finding("where no rule fires", "note", "so it is"))
    assert as_text(Report(notes, 1, 2, 3), None).partition("\n")[2] == (
        "Notes not printed: 2 of `conflict` that no record shows and 1 of `where no rule fires`; `--all`\n"
        "  prints them.\n"
    )
