"""`explain`, `table`, `places`, `pin`, `ask`, help, and manners in a pipe."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

from command_line.running import DEMO, Command
from yokebook import shipped

BRINDLE_FALLS = "demo/tamarisk/brindle-falls"


class TestExplain:
    def test_rules_that_fired_and_rules_that_did_not(self, command: Command):
        ran = command("explain", DEMO, "office/P1/only", "R03")
        assert ran.status == 0  # a mark being required is no finding against
        assert "P1, north wall, at the plotter, private office: required" in ran.words
        assert "marking.required#automatic: fires, stands -> required" in ran.words
        assert "marking.required#lighting-exception: does not fire -> not required" in ran.words
        assert "space.occupancy of office: office, wanted dwelling: does not hold" in ran.words
        assert "replace by BF-1 (Brindle Falls ordinance 1)" in ran.words
        assert "contact.supply of office/P1/only: always on instead of controlled gives not required" in ran.words
        assert "Line voltage can kill." in ran.words

    def test_json(self, command: Command):
        ran = command("explain", DEMO, "office/P1/only", "marking.required", "--format", "json")
        [ruling] = json.loads(ran.out)["projects"][0]["rulings"]
        assert {rule["fires"] for rule in ruling["tried"]} >= {"yes", "no"}
        assert ruling["sufficient"] and ruling["would_change"]


class TestTable:
    def test_text_shows_rules_sections_marks_and_chain(self, command: Command):
        ran = command("table", "R03", "--place", BRINDLE_FALLS, "--on", "2024-10-15")
        assert ran.status == 0
        assert "2023 edition, as City of Brindle Falls (invented) has it with BF-1, BF-2 and BF-4" in ran.words
        assert "automatic: required where answer.marking.scope: in scope; contact.supply: controlled" in ran.words
        assert "section: Brindle Falls ordinance, 1" in ran.words
        assert "came about: written by nfpa-70 2014; carried by nfpa-70 2017" in ran.words
        assert "where no rule fires not required." in ran.words

    def test_markdown_has_as_many_cells_in_every_row(self, command: Command):
        ran = command("table", "R03", "--edition", "nfpa-70:2014", "--format", "md")
        rows = [line for line in ran.out.splitlines() if line.startswith("|")]
        assert len(rows) > 4
        assert len({row.replace("\\|", "").count("|") for row in rows}) == 1
        assert any("`lighting-exception`" in row and "**not required**" in row for row in rows)

    def test_an_unamended_place_shows_the_base(self, command: Command):
        ran = command("table", "R03", "--place", "demo/tamarisk", "--on", "2023-05-10")
        assert "BF-1" not in ran.out
        assert "2020 edition, as Tamarisk County (invented) has it" in ran.words


class TestPlaces:
    def test_list(self, command: Command):
        ran = command("places")
        assert ran.status == 0
        assert f"{BRINDLE_FALLS}: City of Brindle Falls (invented)" in ran.words
        assert "amendments: not looked for" in ran.words  # real places say how complete they are

    def test_one(self, command: Command):
        ran = command("places", BRINDLE_FALLS)
        assert "permit application on or after 2018-01-01: not entered (" in ran.words
        assert "2023 edition with BF-2024-electrical; amendments: all entered [BF-EC23]" in ran.words
        assert "BF-2: On a split duplex mounted upright the upper half is the controlled one." in ran.words
        assert "that place's law governs only where an entry says so" in ran.words


class TestPin:
    def test_a_draft_is_pinned_once_and_then_kept(self, command: Command, tmp_path: Path):
        book = tmp_path / "rulebook"
        shutil.copytree(shipped.folder("rulebook"), book)
        file = book / "places" / "demo" / "tamarisk" / "brindle-falls.yaml"
        text = file.read_text(encoding="utf-8")
        pin = re.compile(
            r"""^ *pin: *"[0-9a-f]{8}" *\n|, pin: *"[0-9a-f]{8}"|(?<={)pin: *"[0-9a-f]{8}", """, re.MULTILINE
        )
        draft, pinned = pin.subn("", text)
        assert pinned > 0
        file.write_text(draft, encoding="utf-8")
        file.with_name(f"{file.name}.pins.json").unlink(missing_ok=True)

        refused = command("table", "R03", "--place", BRINDLE_FALLS, "--on", "2024-10-15", "--rulebook", book)
        assert refused.status == 3
        assert "has no pin" in refused.err

        first = command("pin", file)
        assert first.status == 0
        assert f"{pinned} pins written" in first.words
        assert "BF-1 replace marking.required#automatic: pin" in first.words
        again = command("pin", file)
        assert f"{pinned} pins, all as they should be" in again.words
        accepted = command("table", "R03", "--place", BRINDLE_FALLS, "--on", "2024-10-15", "--rulebook", book)
        assert accepted.status == 0

    def test_a_file_that_is_none(self, command: Command):
        assert command("pin", "no-such.yaml").status == 2


class TestAsk:
    COUNTY = ("--place", "demo/tamarisk", "--on", "2023-05-10")

    def test_stops_as_soon_as_the_outcome_cannot_change(self, command: Command):
        ran = command("ask", "R01", *self.COUNTY, stdin="presence\nnobody reads this\n")
        assert ran.status == 0
        assert ran.words.startswith("the control: automatic")
        assert ran.err.count("What takes the power away at this control") == 1
        assert "Nothing more can change it." in ran.err
        assert "2. " not in ran.err.replace("2. presence", "")

    def test_numbers_words_and_beginnings_are_understood(self, command: Command):
        words = {
            command("ask", "R01", *self.COUNTY, stdin=f"{text}\n").words[:25] for text in ("2", "presence", "presen")
        }
        assert words == {"the control: automatic - "}

    def test_an_answer_that_does_not_fit_is_asked_again(self, command: Command):
        ran = command("ask", "R01", *self.COUNTY, stdin="banana\nperson\n")
        assert "`banana` is none of the choices; give its number, 1 to 9, or its word" in " ".join(ran.err.split())
        assert ran.words.startswith("the control: manual")

    @pytest.mark.parametrize("unknown", ["", "?"])
    def test_not_known_goes_on_to_what_else_would_do_and_ends_undecided(self, command: Command, unknown):
        ran = command("ask", "R01", *self.COUNTY, stdin=f"{unknown}\n" * 20)
        assert ran.status == 4
        assert ran.words.startswith("the control: cannot tell, could be manual or automatic")
        assert "Nothing is left that you might know." in ran.err

    def test_the_end_of_the_answers_gives_the_ruling_so_far(self, command: Command):
        ran = command("ask", "R03", *self.COUNTY, stdin="controlled\n")
        assert ran.status == 4
        assert "No more answers; this is the ruling so far." in ran.err
        assert "the receptacle: cannot tell, could be not required or required" in ran.words

    def test_a_fact_that_settles_it_ends_it_early(self, command: Command):
        """Nothing switches it: no edition marks a receptacle that is always on."""
        ran = command("ask", "R03", *self.COUNTY, stdin="always on\n")
        assert ran.status == 0
        assert ran.words.startswith("the receptacle: not required")

    def test_a_date_is_asked_like_any_fact(self, command: Command):
        ran = command("ask", "R03", "--place", BRINDLE_FALLS, "--format", "json", stdin="")
        asks = [ask["fact"] for ask in json.loads(ran.out)["projects"][0]["rulings"][0]["ask"]]
        assert "dates.permit application" in asks

    def test_place_and_question_can_be_picked(self, command: Command):
        places = command("ask", stdin="")
        assert places.status == 3
        assert "Which place?" in places.err and "the answers ended before" in places.err
        ran = command("ask", "--on", "2023-05-10", stdin="demo/tamarisk\ncontrol.acts\npresence\n")
        assert ran.words.startswith("the control: automatic")

    def test_somebody_elsewhere_picks_an_edition(self, command: Command):
        """The 2023 edition marks what a sensor controls, whatever the place."""
        picked = "another place\nnfpa-70:2023\nR03\n"
        ran = command("ask", stdin=f"{picked}controlled\npresence\n5-20R\nceiling sensor and relay\nno\nceiling\nyes\n")
        assert "Which edition is in force where you work?" in ran.err
        assert ran.words.startswith("the receptacle: required")
        assert "National Electrical Code (NFPA 70), 2023 edition" in ran.words

    def test_a_sensor_too_small_for_its_breaker_needs_no_project_file(self, command: Command):
        """1800 W / 120 V = 15 A, and several receptacles on a 20 A circuit ask for 20 A."""
        answers = "yes\nno\nyes\nno\nno\nyes\n15 A\n5-20R\n20 A\n"
        ran = command("ask", "R12", "--edition", "nfpa-70:2023", stdin=answers)
        assert "Does the control feed a receptacle?" in ran.err
        assert ran.words.startswith("the control: not satisfied")

    def test_units(self, command: Command):
        """A delay in hours is taken in the law's minutes; half an hour is over twenty minutes."""
        answers = "presence\n0.5 h\n"
        ran = command("ask", "control.off-delay", "--place", BRINDLE_FALLS, "--on", "2024-10-15", stdin=answers)
        assert "30 min" in ran.words or "cannot tell" in ran.words


class TestManners:
    def run(self, *argv: str, **settings: object) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "-m", "yokebook_adapters.command_line.main", *argv]
        return subprocess.run(command, capture_output=True, text=True, timeout=120, check=False, **settings)  # type: ignore[call-overload]

    def test_help_is_quick_and_loads_nothing_heavy(self):
        best = min(self._timed("--help") for _ in range(3))
        bare = min(self._timed_python() for _ in range(3))
        # ratio to an interpreter that does nothing, so that a busy machine does not decide
        assert best < 5 * bare + 0.1
        code = (
            "import sys; from yokebook_adapters.command_line.main import main; main(['--help']); "
            "bad = {'yaml', 'jsonschema', 'yokebook.code'} & set(sys.modules); sys.exit(f'loaded {bad}' if bad else 0)"
        )
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr
        for command in ("rule", "explain", "ask", "table", "places", "check", "compare", "pin", "rerun", "serve"):
            assert f"\n    {command} " in done.stdout

    def _timed(self, *argv: str) -> float:
        start = time.perf_counter()
        assert self.run(*argv).returncode == 0
        return time.perf_counter() - start

    def _timed_python(self) -> float:
        start = time.perf_counter()
        subprocess.run([sys.executable, "-c", "import argparse"], check=True)
        return time.perf_counter() - start

    def test_a_reader_that_goes_away_is_no_traceback(self):
        command = [sys.executable, "-m", "yokebook_adapters.command_line.main"]
        command += ["rule", "--demo", "--format", "json", "--question", "R60"]
        with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
            assert process.stdout is not None and process.stderr is not None
            process.stdout.readline()
            process.stdout.close()
            errors = process.stderr.read()
            status = process.wait(timeout=120)
        assert errors == ""
        assert status in (1, 141)  # 1 where all had been written before the reader went

    def test_no_escape_codes_even_where_colour_is_asked_for(self):
        done = self.run(
            "rule", "--demo", "--question", "R60", env={**os.environ, "FORCE_COLOR": "1", "TERM": "xterm-256color"}
        )
        assert done.returncode == 1
        assert "\x1b" not in done.stdout + done.stderr

    def test_no_command_prints_help_and_exits_2(self):
        done = self.run()
        assert done.returncode == 2
        assert done.stdout == "" and "commands:" in done.stderr
