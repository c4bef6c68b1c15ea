"""Rows that each describe one contact device, joined by id columns into one project."""

from __future__ import annotations

from yokebook.entities import KIND_OF_PREFIX, PARENT, PREFIX, Kind
from yokebook.intake.entry import Entry, Fields, Member
from yokebook.intake.thing_reader import NOTHING
from yokebook.intake.value import Reader, quoted
from yokebook.intake.vocabulary import Term
from yokebook.load.faults import Fault
from yokebook_adapters.panel_schedule import Panels
from yokebook_adapters.schedule_columns import IdUse, ScheduleMapping, list_of
from yokebook_adapters.schedule_rows import Row, members

_Path = tuple[str, ...]

#: The kinds that stand inside one another, outermost first.
_NESTED: tuple[Kind, ...] = ("space", "yoke", "contact")
_CHILD: dict[Kind, tuple[tuple[Kind, str], ...]] = {"space": (("yoke", "yokes"),), "yoke": (("contact", "contacts"),)}
_BY_ID: tuple[Kind, ...] = ("control", "circuit", "load")
_AT_TOP: tuple[Kind, ...] = ("space", *_BY_ID)


class Join:
    """Collects rows into things; `project()` gives the project that they make."""

    def __init__(self, mapping: ScheduleMapping, panels: Panels | None = None) -> None:
        self.mapping = mapping
        self.panels = panels
        #: what each thing is given, in the order of its first row: key in a project file -> entry
        self.things: dict[tuple[Kind, _Path], dict[str, Entry]] = {}
        self.project_facts: dict[str, Entry] = {}
        self.first_row: dict[_Path, Row] = {}
        self.all_taken = True

    def refused(self) -> None:
        """A row was left out, so that no list that rows make up is complete any more."""
        self.all_taken = False

    def add(self, row: Row) -> list[Fault]:
        """Takes a row, unless it contradicts the rows before; the faults, if any."""
        faults: list[Fault] = []
        ids: dict[Kind, list[str]] = {
            kind: ids_of(row, use, self.mapping, faults) for kind, use in self.mapping.ids.items()
        }
        if faults:
            return faults
        path: _Path = tuple(ids[kind][0] for kind in _NESTED)
        if "load" in ids and self.mapping.ids["load"].own:
            ids["load"] = [one if one == NOTHING else f"{one} at {'/'.join(path)}" for one in ids["load"]]
        if path in self.first_row:
            where = self.first_row[path].number
            return [Fault(row.place, f"the contact device `{'/'.join(path)}` stands in row {where} already")]
        given = self._given(row, ids, path, faults)
        if faults:
            return faults
        self.first_row[path] = row
        for key, facts in given.items():
            self.things.setdefault(key, {}).update(facts)
        return []

    def _given(
        self, row: Row, ids: dict[Kind, list[str]], path: _Path, faults: list[Fault]
    ) -> dict[tuple[Kind, _Path], dict[str, Entry]]:
        """What a row says of each thing that it names; a fault for what contradicts an earlier row."""
        given: dict[tuple[Kind, _Path], dict[str, Entry]] = {}
        for depth, kind in enumerate(_NESTED, start=1):
            given[kind, path[:depth]] = {}
        for kind in _BY_ID:
            for one in ids.get(kind, []):
                if one != NOTHING:
                    given[kind, (one,)] = self._of_panel(row, one, faults) if kind == "circuit" else {}
        given["contact", path].update(self._references(row, ids))
        constant = {key for key, _ in self.mapping.constants}
        for member in members(row, self.mapping):
            if member.value.given:
                self._put(member, given, faults, constant=member.key in constant)
        return given

    def _of_panel(self, row: Row, circuit: str, faults: list[Fault]) -> dict[str, Entry]:
        """What a panel schedule says of a circuit; a fault where there are panel schedules and none lists it."""
        if self.panels is None:
            return {}
        found = self.panels.find(circuit, _at(row, self.mapping.ids["circuit"]))
        if isinstance(found, Fault):
            faults.append(found)
            return {}
        return {key.partition(".")[2]: entry for key, entry in found.facts.items()}

    def _references(self, row: Row, ids: dict[Kind, list[str]]) -> dict[str, Entry]:
        found: dict[str, Entry] = {}
        for kind in _BY_ID:
            key = "controls" if kind == "control" else kind
            use = self.mapping.ids.get(kind)
            given = ids.get(kind, [])
            if use is None or not given:
                continue
            at = _at(row, use)
            if key == "controls":
                found[key] = Entry(at, tuple(Entry(at, one) for one in given if one != NOTHING))
                if "contact.controls" in self.mapping.complete:
                    found["complete"] = Entry(at, Fields((Member(key, at, Entry(at, True)),)))
            else:
                found[key] = Entry(at, given[0])
        return found

    def _put(
        self, member: Member, given: dict[tuple[Kind, _Path], dict[str, Entry]], faults: list[Fault], *, constant: bool
    ) -> None:
        kind = KIND_OF_PREFIX[member.key.partition(".")[0]]
        key = member.key.partition(".")[2]
        if kind == "project":
            faults += disagreement(member, self.project_facts.get(key), "the project", self.mapping)
            self.project_facts.setdefault(key, member.value)
            return
        things = [thing for thing in given if thing[0] == kind]
        if len(things) != 1:
            if not constant:
                found = "several" if things else "none"
                message = f"this gives `{member.key}`, but the row names {found} it could be of; allowed: one"
                faults.append(Fault(member.at, message))
            return
        before = self.things.get(things[0], {}).get(key, given[things[0]].get(key))
        faults += disagreement(member, before, f"`{'/'.join(things[0][1])}`", self.mapping)
        given[things[0]][key] = member.value

    # ---- the project ----

    def project(self) -> Entry:
        """The rows taken so far as a project's tree."""
        inside: dict[tuple[Kind, _Path], list[_Path]] = {}
        for kind, path in self.things:
            inside.setdefault((kind, path[:-1]), []).append(path)
        top = {"project": self._project_itself()}
        for kind in _AT_TOP:
            top[PARENT[kind][1]] = self._list(kind, (), inside)
        return _mapping(self.mapping.file, top)

    def _project_itself(self) -> Entry:
        written = self.mapping.project
        facts = dict(self.project_facts)
        if written is not None and isinstance(written.value, Fields):
            facts |= {member.key: member.value for member in written.value}
        flags = self._flags("project")
        return _mapping(self.mapping.file, {"complete": flags, **facts} if flags is not None else facts)

    def _list(self, kind: Kind, parent: _Path, inside: dict[tuple[Kind, _Path], list[_Path]]) -> Entry:
        items = [self._thing(kind, path, inside) for path in inside.get((kind, parent), [])]
        return Entry(self.mapping.file, tuple(items))

    def _thing(self, kind: Kind, path: _Path, inside: dict[tuple[Kind, _Path], list[_Path]]) -> Entry:
        place = self.mapping.file
        made: dict[str, Entry] = {"id": Entry(place, path[-1])}
        flags = self._flags(kind)
        if flags is not None:
            made["complete"] = flags
        made |= self.things[kind, path]
        for child, key in _CHILD.get(kind, ()):
            made[key] = self._list(child, path, inside)
        return _mapping(place, made)

    def _flags(self, kind: Kind) -> Entry | None:
        """Which lists of a thing the rows make up whole. A contact's controls are its own row's to say."""
        place = self.mapping.file
        lists = [name for owner, name, _ in map(list_of, self.mapping.complete) if owner == kind and kind != "contact"]
        if not lists:
            return None
        return _mapping(place, {name: Entry(place, self.all_taken) for name in lists})


def disagreement(member: Member, before: Entry | None, whose: str, mapping: ScheduleMapping) -> list[Fault]:
    """A fault if a member gives another value than was given before; `20` and `20 A` are one value of a current."""
    if before is None:
        return []
    now, then = quoted(member.value.value), quoted(before.value)
    if now == then or _same(mapping.terms().get(member.key), member.value, before):
        return []
    message = f"`{member.key}` of {whose} is {now} here and {then} at {before.at}; allowed: one value"
    return [Fault(member.at, message)]


def _same(term: Term | None, one: Entry, other: Entry) -> bool:
    """Whether two entries, which the front door has let in, are one value."""
    if term is None or term.type == "text":
        return False
    reader = Reader([], bare_numbers=False)
    return reader.value(term, one) == reader.value(term, other)


def ids_of(row: Row, use: IdUse, mapping: ScheduleMapping, faults: list[Fault]) -> list[str]:
    """The ids that a row gives for one kind; [] where it gives none."""
    if not use.columns:
        return [use.always or ""]
    cells = [row.cells[column] for column in use.columns]
    at = _at(row, use)
    if len(cells) > 1:
        return _of_several(row, use, cells, mapping, faults)
    parts = [part.strip() for part in cells[0].split(use.split)] if use.split else cells
    ids = [part for part in parts if part.casefold() not in mapping.not_given]
    if use.kind in _NESTED:
        if not ids:
            faults.append(_missing(use, at, mapping))
        elif "/" in ids[0] or ids[0] == NOTHING:
            faults.append(Fault(at, f"`{ids[0]}` is no id; allowed: text without a slash"))
    if len(set(ids)) < len(ids) or (NOTHING in ids and len(ids) > 1):
        faults.append(Fault(at, f"`{cells[0]}` names one thing twice, or `{NOTHING}` beside another"))
    return ids


def _missing(use: IdUse, at: str, mapping: ScheduleMapping) -> Fault:
    hint = "" if mapping.skip_rows_without else (
        f"; if it is no device's row, such as a total, say under `skip_rows_without` in {mapping.file} which columns "
        "such rows leave blank"
    )  # fmt: skip
    return Fault(at, f"the id of the {PREFIX[use.kind]} is missing; allowed: text{hint}")


def _of_several(row: Row, use: IdUse, cells: list[str], mapping: ScheduleMapping, faults: list[Fault]) -> list[str]:
    """The id that several columns make together."""
    given = [cell.casefold() not in mapping.not_given for cell in cells]
    if not all(given):
        if any(given):
            lacks = use.columns[given.index(False)]
            message = f"`{cells[given.index(True)]}` is only a part of an id: the column `{lacks}` gives nothing"
            faults.append(Fault(row.at(lacks), f"{message}; allowed: all parts, or none"))
        elif use.kind in _NESTED:
            faults.append(_missing(use, _at(row, use), mapping))
        return []
    if NOTHING in cells:
        if set(cells) != {NOTHING}:
            faults.append(Fault(_at(row, use), f"`{NOTHING}` stands beside another part of an id; allowed: alone"))
        return [NOTHING]
    made = use.joined_by.join(cells)
    if use.kind in _NESTED and "/" in made:
        faults.append(Fault(_at(row, use), f"`{made}` is no id; allowed: text without a slash"))
    return [made]


def _at(row: Row, use: IdUse) -> str:
    """Where a row gives an id."""
    return row.at(use.columns[0]) if use.columns else row.place


def _mapping(place: str, members_of: dict[str, Entry]) -> Entry:
    return Entry(place, Fields(tuple(Member(key, entry.at, entry) for key, entry in members_of.items())))
