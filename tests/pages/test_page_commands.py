"""The commands that print pages and drawings: where the output goes, and what is said when it cannot be made."""

from __future__ import annotations

import builtins
import sys
from pathlib import Path
from typing import Any

import pytest

from command_line.running import Command
from outputs.small_shop import SHOP
from pages.reading import drawing_of, faults_of, faults_of_drawing, fingerprint, parse, text_of
from yokebook_adapters.pages import printing

LAW = ("--edition", "nfpa-70:2023")

#: One question is enough to see where the output goes.
MARKS = ("--question", "R03")

#: The edition that asks the fewest questions.
EARLY = ("--edition", "nfpa-70:2014")


@pytest.fixture
def shop_file(tmp_path: Path) -> Path:
    file = tmp_path / "shop.yaml"
    file.write_text(SHOP, encoding="utf-8")
    return file


def without(monkeypatch: pytest.MonkeyPatch, library: str, fault: Exception) -> None:
    """Makes the import of a library fail so."""
    real = builtins.__import__

    def imported(name: str, *rest: Any, **more: Any) -> Any:
        if name.partition(".")[0] == library:
            raise fault
        return real(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", imported)


class TestOutput:
    @pytest.mark.parametrize("argv", [("rule", *MARKS), ("schedule", *EARLY), ("authority", *EARLY)])
    def test_html_to_standard_output_and_to_a_file_is_the_same(
        self, command: Command, shop_file: Path, tmp_path: Path, argv: tuple[str, ...]
    ):
        printed = command(*argv, shop_file, "--format", "html")
        assert faults_of(printed.out) == []
        target = tmp_path / "page.html"
        filed = command(*argv, shop_file, "--format", "html", "--output", target)
        assert (filed.out, filed.status) == ("", printed.status)
        assert fingerprint(target.read_text(encoding="utf-8")) == fingerprint(printed.out)
        plain = command(*argv, shop_file)
        assert plain.status == printed.status

    def test_text_goes_into_a_file_too(self, command: Command, shop_file: Path, tmp_path: Path):
        printed = command("rule", shop_file, *MARKS)
        filed = command("rule", shop_file, *MARKS, "--output", tmp_path / "rulings.txt")
        assert (filed.out, filed.status) == ("", printed.status)
        assert fingerprint((tmp_path / "rulings.txt").read_text(encoding="utf-8")) == fingerprint(printed.out)

    def test_a_file_that_cannot_be_written(self, command: Command, shop_file: Path, tmp_path: Path):
        ran = command("rule", shop_file, *MARKS, "--output", tmp_path / "none" / "page.html")
        assert ran.status == 2
        assert ran.err.startswith("yokebook: cannot write `") and "No such file" in ran.err

    def test_nothing_is_written_where_the_command_stops(self, command: Command, tmp_path: Path):
        ran = command("schedule", tmp_path / "nowhere.yaml", "--format", "html", "--output", tmp_path / "page.html")
        assert (ran.status, ran.out) == (2, "")
        assert not (tmp_path / "page.html").exists()

    def test_pdf_in_a_file(self, command: Command, shop_file: Path, tmp_path: Path):
        target = tmp_path / "sheet.pdf"
        ran = command("rule", shop_file, *MARKS, "--format", "pdf", "--full", "--output", target)
        assert ran.out == ""
        assert target.read_bytes().startswith(b"%PDF-")

    def test_pdf_is_not_for_a_terminal(self, command: Command, shop_file: Path, monkeypatch: pytest.MonkeyPatch):
        monkeypatch.setattr(sys.stdout, "isatty", lambda: True, raising=False)
        ran = command("authority", shop_file, *EARLY, "--format", "pdf")
        assert (ran.status, ran.out) == (2, "")
        assert ran.err == "yokebook: a PDF is not for a terminal; name a file with --output\n"

    def test_full_has_more_than_short(self, command: Command, shop_file: Path):
        short, full = (command("rule", shop_file, *MARKS, "--format", "html", *more).out for more in ((), ("--full",)))
        assert "For the authority" not in text_of(parse(short))
        assert "For the authority" in text_of(parse(full))

    def test_one_project_a_page(self, command: Command, shop_file: Path):
        ran = command("rule", shop_file, shop_file, *MARKS, "--format", "html")
        assert (ran.status, ran.out) == (2, "")
        assert ran.err == "yokebook: --format html prints one project, and 2 were ruled on\n"

    def test_a_refused_record_is_on_the_page(self, command: Command):
        ran = command("schedule", "-", "--format", "html", stdin="spaces: [{id: a, use: nowhere}]")
        assert ran.status == 3
        assert "nowhere" in text_of(parse(ran.out)) and "nowhere" in ran.err


class TestMissingLibraries:
    def test_for_templates(self, command: Command, shop_file: Path, monkeypatch: pytest.MonkeyPatch):
        printing._templates.cache_clear()
        without(monkeypatch, "jinja2", ImportError("no jinja2"))
        ran = command("schedule", shop_file, *EARLY, "--format", "html")
        assert (ran.status, ran.out) == (2, "")
        assert ran.err == (
            "yokebook: HTML and PDF need the library Jinja2, which is not installed; install yokebook with its extra "
            "`reports`: pip install 'yokebook[reports]'\n"
        )

    def test_for_paper(self, command: Command, shop_file: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path):
        argv = ("schedule", shop_file, *EARLY, "--format", "pdf", "--output", tmp_path / "x.pdf")
        for library, fault in (("WeasyPrint", ImportError("none")), ("Pango", OSError("cannot load libpango"))):
            with monkeypatch.context() as patched:
                without(patched, "weasyprint", fault)
                ran = command(*argv)
            assert (ran.status, ran.out) == (2, "")
            assert f"PDF needs the library {library}" in ran.err
        assert not (tmp_path / "x.pdf").exists()


class TestDrawings:
    def test_a_face_by_device_or_by_half(self, command: Command, shop_file: Path):
        by_device = command("draw", shop_file, "shop/R1")
        assert (by_device.status, by_device.err) == (0, "")
        assert command("draw", shop_file, "shop/R1/upper").out == by_device.out
        assert faults_of_drawing(drawing_of(by_device.out)) == []
        assert "Face of R1, north wall, shop floor" in by_device.out

    def test_what_cannot_be_drawn(self, command: Command, shop_file: Path):
        for subject, said in (
            ("C1", "`C1` is a control, of which there is no drawing; name a device or a room"),
            ("shop", "of `shop` nothing can be drawn: no wall has its length, and no receptacle its place, given"),
            ("shop/X", "nothing in the record has the path `shop/X`"),
        ):
            ran = command("draw", shop_file, subject)
            assert (ran.status, ran.out, ran.err) == (2, "", f"yokebook: {said}\n")

    def test_a_face_without_law_on_marks(self, command: Command, shop_file: Path):
        ran = command("draw", shop_file, "shop/R1", "--edition", "brindle-falls-energy:2021")
        assert ran.status == 2 and "no document in force rules on the mark of `shop/R1`" in ran.err

    def test_a_refused_project(self, command: Command):
        ran = command("draw", "-", "a", stdin="spaces: [{id: a, use: nowhere}]")
        assert ran.status == 3 and ran.err.startswith("yokebook: the project was refused:\n")

    def test_a_line_of_time(self, command: Command):
        ran = command("places", "demo/tamarisk/brindle-falls", "--format", "svg")
        assert faults_of_drawing(drawing_of(ran.out)) == []
        assert command("places", "--format", "svg").err == "yokebook: --format svg is of one place; name it\n"

    def test_a_place_as_a_page(self, command: Command):
        assert faults_of(command("places", "us/wa/seattle", "--format", "html").out) == []

    def test_a_table_as_a_picture_and_as_a_page(self, command: Command):
        assert faults_of_drawing(drawing_of(command("table", "R03", *LAW, "--format", "svg").out)) == []
        assert faults_of(command("table", "R60", *LAW, "--format", "html").out) == []
        several = command("table", "R18", "--place", "demo/tamarisk/brindle-falls", "--on", "2024-10-15",
                          "--format", "svg")  # fmt: skip
        assert several.status == 2 and several.err.startswith("yokebook: SVG shows one table a file; `R18` means ")

    def test_a_trace_as_a_picture_and_as_a_page(self, command: Command, shop_file: Path):
        for form in ("svg", "html"):
            ran = command("explain", shop_file, "shop/R1/upper", "R03", *LAW, "--format", form)
            assert (drawing_of(ran.out) is not None) if form == "svg" else (faults_of(ran.out) == [])

    def test_the_same_bytes_again(self, command: Command, shop_file: Path):
        argv = ("draw", shop_file, "shop/R1")
        assert command(*argv).out == command(*argv).out


class TestComparison:
    def test_what_changes_is_what_the_text_says(self, command: Command, shop_file: Path):
        asked = ("--question", "marking.form", "--question", "marking.place")
        argv = ("compare", "nfpa-70:2014", "nfpa-70:2017", shop_file, *asked)
        page = command(*argv, "--format", "html")
        data = command(*argv, "--format", "json")
        assert page.status == data.status == 0
        assert faults_of(page.out) == []
        text = text_of(parse(page.out))
        assert "R06 marking.form: symbol becomes symbol and word" in text
        assert "R07 marking.place: outlet or plate becomes face" in text
        assert "Devices of Invented shop" in text
