"""What changes for one project as text: by question and change, the devices, the rules before and after."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from yokebook.proof.comparing_projects import DeviceChange, DeviceGroup, OnlyOne, ProjectChanges
from yokebook_adapters.lines import in_words, many, sentence, wrap

#: How a rule that nobody read in its edition, or that rests on memory, is marked.
_MARKS = {"assumed": "not checked in this edition", "memory": "from memory"}

#: What an edition or amendment last did to a rule, where it is told.
_DID = {
    "add": "added",
    "replace": "replaced",
    "narrow": "narrowed",
    "delete": "taken out",
    "prevails_over": "made to prevail",
    "set_value": "set",
    "choose_reading": "chosen",
}

#: How many devices of one group are named before the rest is counted, unless all are wanted.
_NAMED = 12


@dataclass(frozen=True)
class CompareProject:
    """A project that was ruled under both laws."""

    file: str
    name: str
    changes: ProjectChanges


def project_lines(project: CompareProject, everything: bool, width: int) -> list[str]:
    """One project: less strict first, then stricter, then the rest, then what only one of the laws asks."""
    changes = project.changes
    count = sum(len(group.devices) for group in changes.groups)
    text = f"DEVICES of {project.name or project.file}: {many(count, 'ruling')} changed, {changes.same} the same"
    lines = wrap(text, width)
    order = ("less strict", "stricter", "neither")
    for group in sorted(changes.groups, key=lambda group: order.index(group.direction)):
        lines += ["", *_group_lines(group, everything, width)]
    for lead, only in (("no longer asked", changes.only_was), ("asked only now", changes.only_now)):
        lines += ["", *(line for each in only for line in _only_lines(lead, each, width))] if only else []
    return lines


def _group_lines(group: DeviceGroup, everything: bool, width: int) -> list[str]:
    way = "" if group.direction == "neither" else f" ({group.direction})"
    against = ""
    if group.against["was"] != group.against["now"]:
        against = ", now against" if group.against["now"] else ", no longer against"
    head = f"{group.question}: {group.was} -> {group.now}{way}{against}: {many(len(group.devices), 'device')}"
    lines = wrap(head, width)
    for devices in alike_devices(group.devices):
        shown = devices if everything else devices[:_NAMED]
        labels = [device.subject["label"] for device in shown]
        left = len(devices) - len(shown)
        lines += wrap("; ".join([*labels, *([f"and {left} more"] if left else [])]), width, indent=2)
        first = devices[0]
        lines += [*rule_lines("old", first.was, width, 4), *rule_lines("new", first.now, width, 4)]
        for below in first.below:
            lines += wrap(f"because {below['question']} stands by other rules", width, indent=4)
            lines += [*rule_lines("old", below["was"], width, 6), *rule_lines("new", below["now"], width, 6)]
    return lines


def alike_devices(devices: Sequence[DeviceChange]) -> list[list[DeviceChange]]:
    """The devices together that have the same rules before and after."""
    groups: dict[object, list[DeviceChange]] = {}
    for device in devices:
        below = tuple((each["question"], _ids(each["was"]), _ids(each["now"])) for each in device.below)
        groups.setdefault((_ids(device.was), _ids(device.now), below), []).append(device)
    return list(groups.values())


def _ids(rules: Sequence[Mapping[str, Any]]) -> tuple[str, ...]:
    return tuple(rule["rule"] for rule in rules)


def _only_lines(lead: str, each: OnlyOne, width: int) -> list[str]:
    words = in_words(f"{word} ({count})" for word, count in each.words.items())
    return wrap(f"{each.question}, {lead}: {words}", width)


def rule_lines(lead: str, rules: Sequence[Mapping[str, Any]], width: int, indent: int = 2) -> list[str]:
    """Rules one a paragraph, as rule_text has them."""
    return [line for rule in rules for line in wrap(f"{lead}: {rule_text(rule)}", width, indent)]


def rule_text(rule: Mapping[str, Any]) -> str:
    """One rule: which, where it is written, who changed it last, how little checked, and its words."""
    cite = rule["cite"]
    where = f", {cite['document']} {cite['section']}" if cite else ""
    last = rule["chain"][-1] if rule["chain"] else None
    by = f", {_DID[last['op']]} by {last['by']}" if last and last["op"] in _DID else ""
    mark = _MARKS.get(rule["checked"]["mark"])
    checked = f" [{mark}]" if mark else ""
    return f"{rule['rule']}{where}{by}{checked}. {sentence(rule['says'])}".rstrip()
