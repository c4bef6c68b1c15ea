"""Two pages written from the rulebook: how well each ruling is checked by edition, and which rules no case touches.

`python -m yokebook_adapters.coverage` writes them anew; a test holds them against the data.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from yokebook import Code, Rulebook, Ruling, load, shipped
from yokebook.editions import resolve_edition
from yokebook.load.faults import Fault
from yokebook.load.files import read_file
from yokebook.load.nodes import plain_data
from yokebook.model import Book, Question, Table

CHECKED, TOUCHED = "CHECKED.md", "CASES.md"

#: Rulings that are put together from others when they are printed, and from which.
VIEWS: Mapping[str, str] = {
    "R05": "put together from R03 by yoke",
    "R09": "put together from R03, R08 and the configuration",
    "R10": "read off the amendments behind each ruling",
    "R49": "read off the place's line of time; old marks have a question of their own",
    "R56": "two project files compared",
    "R57": "read off each ruling",
}
_MARKS = ("seen", "derived", "memory", "assumed")

#: Sources that say that a case is no published one.
_OWN = ("common practice", "hand-worked", "worked by hand", "the invented", "invented", "the rulebook", "arithmetic")


def checked_page(book: Book) -> str:
    """Each document's rulings by edition: how many of the rows that answer are seen, derived, from memory, assumed."""
    lines = [
        "# How well each ruling is checked",
        "",
        "Written from the data by `python -m yokebook_adapters.coverage`. Each cell counts the rows (rules, and what "
        "holds where none fires) that answer the question in that edition: **s**een in a source that is named, "
        "**d**erived, from **m**emory, **a**ssumed from another edition that somebody read. Empty: no table there.",
    ]
    for document in book.documents.values():
        editions = [edition for edition in document.editions if (document.id, edition) in book.editions]
        tables = {edition: resolve_edition(book, document.id, edition).tables for edition in editions}
        asked = sorted({q for each in tables.values() for q in each}, key=lambda q: (book.questions[q].ruling, q))
        lines += ["", f"## {document.title} (`{document.id}`)", ""]
        lines += [_row(["ruling", "question", *editions]), _row(["---"] * (len(editions) + 2))]
        for question in asked:
            cells = [_marks(tables[edition].get(question)) for edition in editions]
            lines.append(_row([book.questions[question].ruling, f"`{question}`", *cells]))
    return "\n".join([*lines, *_without_table(book)]) + "\n"


def _marks(table: Table | None) -> str:
    if table is None:
        return ""
    marks: Counter[str] = Counter(rule.checked.mark for rule in table.rules)
    marks[table.none_fires.checked.mark] += 1
    if table.none_fires.then is None:
        marks[table.none_fires.checked.mark] -= 1
    return " ".join(f"{marks[mark]}{mark[0]}" for mark in _MARKS if marks[mark] > 0)


def _without_table(book: Book) -> list[str]:
    """The rulings R01 to R60 that have no table, and what stands for them."""
    asked: dict[str, list[Question]] = {}
    for question in book.questions.values():
        asked.setdefault(question.ruling, []).append(question)
    lines = ["", "## Rulings without a table of their own", ""]
    for number in range(1, 61):
        ruling = f"R{number:02}"
        if ruling in VIEWS:
            lines.append(f"- {ruling}: {VIEWS[ruling]}")
        elif ruling not in asked:
            lines.append(f"- {ruling}: not modelled")
    return lines


# ---- cases ----------------------------------------------------------------------------------------------------------


def cases(root: Path) -> Iterator[Mapping[str, Any]]:
    """Every worked case of a rulebook's `cases` folder, as data."""
    for path in sorted((root / "cases").rglob("*.yaml")):
        faults: list[Fault] = []
        node = read_file(path, path.name, faults)
        if node is not None:
            yield from plain_data(node).get("cases", ())


def is_published(case: Mapping[str, Any]) -> bool:
    """Whether a case's expected ruling stands in a source outside this project."""
    return not str(case["source"]).casefold().startswith(_OWN)


def ruled(rulebook: Rulebook, each: Iterable[Mapping[str, Any]]) -> Iterator[tuple[Mapping[str, Any], Ruling]]:
    """Each case with the ruling on its record, under the law of its place and days or of its edition."""
    laws: dict[str, Code] = {}
    for case in each:
        names = {part: case.get(part) for part in ("place", "dates", "choices", "document", "edition")}
        name = json.dumps(names, sort_keys=True)
        if name not in laws:
            laws[name] = _law(rulebook, case)
        yield case, laws[name].rule(case["question"], case["record"], document=case.get("document"))


def _law(rulebook: Rulebook, case: Mapping[str, Any]) -> Code:
    if "place" in case:
        return rulebook.in_force(case["place"], dates=case.get("dates"), choices=case.get("choices"))
    return rulebook.edition(case["document"], case["edition"])


def touched(cases_ruled: Iterable[tuple[Mapping[str, Any], Ruling]]) -> dict[tuple[str, str], Counter[str]]:
    """(document, rule) -> how many cases it decides or is set aside in: `published` and `other`."""
    found: dict[tuple[str, str], Counter[str]] = {}
    for case, ruling in cases_ruled:
        kind = "published" if is_published(case) else "other"
        document = (ruling.document or {}).get("id", "")
        its: list[tuple[str, list[dict[str, Any]]]] = [
            (ruling.question, [*ruling.standing, *ruling.defeated]),
            *((answer["question"], answer["standing"]) for answer in ruling.through),
        ]
        for question, rows in its:
            names = {row["rule"] for row in rows} or {f"{question}#none_fires"}
            for name in names:
                found.setdefault((document, name), Counter())[kind] += 1
    return found


def touched_page(book: Book, cases_ruled: Iterable[tuple[Mapping[str, Any], Ruling]]) -> str:
    """For each table how many published and other cases there are, and the rules that none of them touches."""
    found = touched(cases_ruled)
    lines = [
        "# Which rules the worked cases touch",
        "",
        "Written from the data by `python -m yokebook_adapters.coverage`. A case touches the rules that decide it and "
        "those they set aside. Published: what is expected stands in a source outside this project, named with the "
        "case. Regions, which state a clause for every record in a box, are not counted here.",
    ]
    for document in book.documents.values():
        rules = _rules_of(book, document.id)
        if not rules:
            continue
        lines += ["", f"## {document.title} (`{document.id}`)", ""]
        lines += [_row(["table", "published", "other", "rules that no published case touches"]), _row(["---"] * 4)]
        for question, names in rules.items():
            counts = [found.get((document.id, name), Counter()) for name in names]
            bare = [f"`{n.rpartition('#')[2]}`" for n, c in zip(names, counts, strict=True) if not c["published"]]
            published, other = (sum(c[kind] for c in counts) for kind in ("published", "other"))
            rest = "none: all are touched" if not bare else ", ".join(bare)
            if not published:
                rest = f"no published case was found; {rest}"
            lines.append(_row([f"`{question}`", str(published), str(other), rest]))
    return "\n".join(lines) + "\n"


def _rules_of(book: Book, document: str) -> dict[str, list[str]]:
    """The rules of a document's tables, those of every edition, by question."""
    rules: dict[str, dict[str, None]] = {}
    for name, edition in book.editions:
        if name == document:
            for question, table in resolve_edition(book, document, edition).tables.items():
                rules.setdefault(question, {}).update(dict.fromkeys(rule.id for rule in table.rules))
    return {question: list(rules[question]) for question in sorted(rules)}


def _row(cells: Sequence[str]) -> str:
    return f"| {' | '.join(cells)} |"


def pages(root: Path | None = None) -> dict[str, str]:
    """Both pages by file name, of the rulebook in a folder or the shipped one."""
    folder = shipped.folder("rulebook") if root is None else root
    rulebook = load(root)
    return {
        CHECKED: checked_page(rulebook.book),
        TOUCHED: touched_page(rulebook.book, ruled(rulebook, cases(folder))),
    }


def main() -> int:
    """Writes both pages into the rulebook's folder and prints their paths."""
    folder = shipped.folder("rulebook")
    for name, text in pages().items():
        (folder / name).write_text(text, encoding="utf-8")
        print(folder / name)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
