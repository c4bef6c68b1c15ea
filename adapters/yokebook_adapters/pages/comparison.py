"""The comparison of two codes as a page: what shrank first, then what grew, then the rest, then one's own devices."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from yokebook.model import Book
from yokebook.proof.changes import Change, Changes, Said, Through, Witness
from yokebook.proof.comparing_projects import DeviceGroup
from yokebook_adapters.check_text import example, meaning, record_texts
from yokebook_adapters.compare_project_text import CompareProject, alike_devices, rule_text
from yokebook_adapters.compare_text import (
    HEADINGS,
    Compared,
    boundaries_last,
    boundary_text,
    more_text,
    names_in,
    region_cell_text,
)
from yokebook_adapters.lines import in_words, sentence
from yokebook_adapters.pages.head import head_without_project
from yokebook_adapters.pages.printing import page


def comparison_page(compared: Compared, book: Book, *, everything: bool = False) -> str:
    """The comparison as HTML. `everything` lists every region of a change and every question that stays the same."""
    changes = compared.changes
    sections = [
        {
            "heading": heading.capitalize(),
            "changes": [
                _change(change, book, everything)
                for change in boundaries_last(change for change in changes.changes if change.direction == direction)
            ],
        }
        for direction, heading in HEADINGS.items()
    ]
    return page(
        "comparison.html",
        head=head_without_project("Comparison of two codes", f"{compared.was} / {compared.now}", book.cautions)
        | {"refused": list(compared.refused)},
        was=compared.was,
        now=compared.now,
        documents=changes.documents,
        notes=compared.notes,
        same=[each["question"] for each in changes.same],
        everything=everything,
        sections=[section for section in sections if section["changes"]],
        tables=[asdict(table) | {"rules": [rule_text(rule) for rule in table.rules]} for table in changes.tables],
        through=[_through(each) for each in changes.through],
        numbers=_numbers(changes),
        chosen=changes.readings,
        undecided=[each["question"] for each in changes.not_decided],
        nothing_compared=not any(each.compared for each in changes.documents),
        nothing_changes=not changes,
        projects=[_project(each) for each in compared.projects],
        names={name: sentence(meaning(name, book)) for name in names_in(changes, book, everything)},
    )


def _said(said: Said) -> str:
    return f"{said.word}: {said.says}" if said.says else said.word


def _change(change: Change, book: Book, everything: bool) -> dict[str, Any]:
    regions = change.regions if everything else change.regions[:1]
    return {
        "question": change.question,
        "number": change.ruling,
        "asks": change.asks,
        "was": change.was.word,
        "now": change.now.word,
        "was_says": _said(change.was),
        "now_says": _said(change.now),
        "regions": [[region_cell_text(cell, book) for cell in region] for region in regions],
        "more": [text for text in (boundary_text(change, everything), more_text(change, everything)) if text],
        "witness": _witness(change.witness, in_table=True),
    }


def _witness(witness: Witness, *, in_table: bool) -> dict[str, Any]:
    """A record that shows a change, or that none was found, with the rules before and after."""
    if witness.record is None:
        at = "; ".join(f"{name} {value}" for name, value in witness.point.items())
        lead = "No building was found in which this comes about; it may be that none can be."
        facts = [f"In the table: {at}"] if at and in_table else []
    else:
        lead = f"For example {example(witness.record)}"
        facts = record_texts(witness.record)
    moved = [f"where {cell['input']} was {cell['was']} and is now {cell['now']}" for cell in witness.moved]
    return {"lead": lead, "facts": [*facts, *moved], "was": [rule_text(rule) for rule in witness.was],
            "now": [rule_text(rule) for rule in witness.now]}  # fmt: skip


def _through(each: Through) -> dict[str, Any]:
    return {
        "question": each.question,
        "number": each.ruling,
        "asks": each.asks,
        "own": "its own table says the same" if each.same_table else "besides what its own table changes",
        "because": each.because,
        "shown": [
            {"was": shown.was.word, "now": shown.now.word, "direction": shown.direction,
             "witness": _witness(shown.witness, in_table=False)}
            for shown in each.shown
        ],
    }  # fmt: skip


def _numbers(changes: Changes) -> list[dict[str, Any]]:
    return [
        asdict(number)
        | {
            "where": "; ".join(dict.fromkeys(f"{cite['document']} {cite['section']}" for cite in number.cites if cite)),
            "way": "" if number.direction == "neither" else number.direction,
        }
        for number in changes.numbers
    ]


# ---- one's own projects ---------------------------------------------------------------------------------------------


def _project(project: CompareProject) -> dict[str, Any]:
    changes = project.changes
    order = list(HEADINGS)
    return {
        "name": project.name or project.file,
        "changed": sum(len(group.devices) for group in changes.groups),
        "same": changes.same,
        "groups": [_group(group) for group in sorted(changes.groups, key=lambda group: order.index(group.direction))],
        "only": [
            {"question": each.question, "lead": lead, "words": in_words(f"{w} ({n})" for w, n in each.words.items())}
            for lead, only in (("no longer asked", changes.only_was), ("asked only now", changes.only_now))
            for each in only
        ],
    }


def _group(group: DeviceGroup) -> dict[str, Any]:
    against = ""
    if group.against["was"] != group.against["now"]:
        against = "now against" if group.against["now"] else "no longer against"
    return {
        "question": group.question,
        "number": group.ruling,
        "asks": group.asks,
        "was": group.was,
        "now": group.now,
        "way": ", ".join(text for text in ("" if group.direction == "neither" else group.direction, against) if text),
        "count": len(group.devices),
        "alike": [
            {
                "devices": [device.subject["label"] for device in devices],
                "was": _rules(devices[0].was),
                "now": _rules(devices[0].now),
                "below": [f"because {below['question']} stands by other rules" for below in devices[0].below],
            }
            for devices in alike_devices(group.devices)
        ],
    }


def _rules(rules: Sequence[Mapping[str, Any]]) -> list[str]:
    return [rule_text(rule) for rule in rules]
