"""Panel schedules: the circuits of each panel with what is said of them, to be joined with a device schedule.

A panel schedule is a page with a title, a header and either one circuit a row or two, on the left and on the right.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field

from yokebook.front_door import FrontDoor
from yokebook.intake.entry import Entry, Fields, Member
from yokebook.intake.thing_reader import NOTHING
from yokebook.load.faults import Fault, InputFaults, listed, suggest
from yokebook_adapters.schedule_cells import EMPTY, CellRow, Page, Role, letters
from yokebook_adapters.schedule_columns import CELL, LAYOUTS, PanelUse, ScheduleMapping
from yokebook_adapters.schedule_rows import Row, header_names, role_of, rows_named, stated, take_cell
from yokebook_adapters.schedule_sources import Source, open_source

_NUMBERS = re.compile("[0-9]+")


@dataclass(frozen=True, slots=True)
class Circuit:
    """One circuit of a panel schedule."""

    place: str  # its cell, as faults name it
    facts: Mapping[str, Entry]  # by full name, those that are given


@dataclass
class Panels:
    """The circuits of all panel schedules by id, and those that were refused with their places."""

    circuits: dict[str, Circuit] = field(default_factory=dict)
    refused: dict[str, str] = field(default_factory=dict)

    def find(self, circuit: str, at: str) -> Circuit | Fault:
        """The circuit of this id, or what to say of a row that names it at `at`."""
        found = self.circuits.get(circuit)
        if found is not None:
            return found
        if circuit in self.refused:
            return Fault(at, f"the circuit `{circuit}` was refused where its panel lists it, {self.refused[circuit]}")
        close, known = suggest(circuit, self.circuits), listed(self.circuits) or "none"
        return Fault(at, f"the circuit `{circuit}` stands in no panel schedule{close}; allowed: {known}")


def read_panels(
    mapping: ScheduleMapping, own: Source, door: FrontDoor, notes: list[str]
) -> tuple[Panels | None, list[Fault]]:
    """The circuits of the panel schedules that a mapping names, and the faults of what was refused there; None where
    it names none. `own` is the device schedule's source."""
    use = mapping.panels
    if use is None:
        return None, []
    panels, faults = Panels(), list[Fault]()
    with ExitStack() as stack:
        sources: list[Source] = []
        for path, at in use.files:
            try:
                sources.append(stack.enter_context(open_source(path, str(path), mapping.delimiter)))
            except InputFaults as refused:
                faults += [Fault(at, str(fault)) for fault in refused.faults]
        for source in sources if use.files else [own]:
            sheets: list[str | None] = [name for name, _ in use.sheets]
            for sheet in sheets or [None]:
                try:
                    page = source.page(sheet)
                except InputFaults as refused:
                    faults += refused.faults
                    continue
                faults += _Panel(page, mapping, use, door, panels).read()
                notes.extend(page.notes)
    return panels, faults


@dataclass(frozen=True, slots=True)
class _Side:
    """Where one of the circuits of a row stands."""

    called: str  # "", "left" or "right"
    index: Mapping[str, int]  # column of the page by mapped column


class _Panel:
    """One panel schedule being read."""

    def __init__(
        self,
        page: Page,
        mapping: ScheduleMapping,
        use: PanelUse,
        door: FrontDoor,
        panels: Panels,
    ) -> None:
        self.page, self.mapping, self.use, self.door, self.panels = page, mapping, use, door, panels
        columns = [use.circuit, *([use.panel] if use.panel_from == "column" else [])]
        self.skipped: dict[int, None] = {}  # rows passed over, because they give no circuit
        self.roles: dict[str, Role] = {column.column: role_of(column) for column in use.columns}
        for column in columns:
            self.roles[column] = "id"

    def read(self) -> Iterator[Fault]:
        """Takes every circuit of the page; the faults of what is refused."""
        rows: dict[int, CellRow] = {}
        for raw in self.page.rows:
            if isinstance(raw, Fault):
                yield raw
                return
            rows[raw.number] = raw
        header = rows.get(self.use.header_row)
        if header is None:
            yield Fault(self.page.row_at(self.use.header_row), "the panel schedule ends before its header row")
            return
        sides, faults = self._sides(header_names(header))
        name = None
        try:
            name = self._name(rows)
        except ValueError as error:
            faults.append(Fault(self._name_at(), str(error)))
        yield from faults
        if faults:
            return
        for number in [number for number in rows if number > self.use.header_row]:
            for side in sides:
                yield from self._circuit(rows[number], side, name)
        if self.skipped:
            blank = f"nothing in `{self.use.circuit}`"
            self.page.notes.append(f"{self.page.name}: passed over, with {blank}: {rows_named([*self.skipped])}")

    # ---- what the panel is called, and where its circuits stand ----

    def _name_at(self) -> str:
        cell = self.use.panel if self.use.panel_from == "cell" else ""
        return f"{self.page.name}!{cell}" if cell else self.page.name

    def _name(self, rows: Mapping[int, CellRow]) -> str | None:
        """The panel's name; None where each row gives it. Raises ValueError."""
        if self.use.panel_from == "column":
            return None
        if self.use.panel_from == "always":
            return self.use.panel
        if self.use.panel_from == "sheet_name":
            if self.page.sheet is None:
                raise ValueError("a CSV file has no sheet whose name could be the panel's")
            return self.page.sheet
        match = CELL.fullmatch(self.use.panel)
        assert match is not None
        raw = rows.get(int(match[2]))
        cells = {letters(index): cell for index, cell in enumerate(raw.cells if raw is not None else ())}
        text = take_cell(cells.get(match[1], EMPTY), "id", False, self.mapping)
        if self.use.after and not text.casefold().startswith(self.use.after.casefold()):
            raise ValueError(f"the panel's name is due here after `{self.use.after}`; found `{text}`")
        name = text[len(self.use.after) :].lstrip(" :").strip()
        if name.casefold() in self.mapping.not_given:
            raise ValueError("the panel's name is due here; the cell gives none")
        return name

    def _sides(self, names: Sequence[str]) -> tuple[list[_Side], list[Fault]]:
        """The sides of the page; the faults of its header."""
        place, known = self.page.row_at(self.use.header_row), listed((name for name in names if name), 30)
        times = 1 if self.use.layout == LAYOUTS[0] else 2
        faults, found = [], dict[str, list[int]]()
        for column in self.roles:
            found[column] = [index for index, name in enumerate(names) if name == column]
            if not found[column]:
                close = suggest(column, names)
                message = f"the panel schedule has no column `{column}`{close}; allowed: {known or 'none'}"
                faults.append(Fault(place, message))
            elif len(found[column]) != times:
                wanted = "once" if times == 1 else "twice, on the left and on the right"
                message = f"the column `{column}` stands {len(found[column])} times; allowed: {wanted}"
                faults.append(Fault(place, message))
        if faults:
            return [], faults
        called = ("",) if times == 1 else ("left", "right")
        return [_Side(side, {name: found[name][i] for name in found}) for i, side in enumerate(called)], []

    # ---- one circuit ----

    def _circuit(self, raw: CellRow, side: _Side, panel: str | None) -> Iterator[Fault]:
        spots = {name: self._spot(raw.number, index, name, side) for name, index in side.index.items()}
        cells = {name: raw.cells[i] if i < len(raw.cells) else EMPTY for name, i in side.index.items()}
        if not any(cell.text for cell in cells.values()):
            return
        if self.use.skip_rows_without_circuit and not cells[self.use.circuit].text:
            self.skipped[raw.number] = None
            return
        faults: list[Fault] = []
        texts: dict[str, str] = {}
        for name, cell in cells.items():
            try:
                texts[name] = take_cell(cell, self.roles[name], name in self.use.numbers_as_shown, self.mapping)
            except ValueError as error:
                faults.append(Fault(spots[name], str(error)))
        merged = [raw_range for raw_range in raw.across if len(self._within(raw_range, side)) > 1]
        faults += [self._is_merged(raw.number, raw_range, side) for raw_range in merged]
        if faults:
            known = panel or texts.get(self.use.panel)
            if known and self.use.circuit in texts:
                self.panels.refused[self._id(known, texts[self.use.circuit])] = spots[self.use.circuit]
            yield from faults
            return
        row = Row(self.page.name, raw.number, self.page.row_at(raw.number), texts, spots.__getitem__)
        given = {use.key: stated(row, use, self.mapping) for use in self.use.columns}
        yield from self._take(row, panel or texts[self.use.panel], side, {k: e for k, e in given.items() if e.given})

    def _spot(self, number: int, index: int, name: str, side: _Side) -> str:
        spot = self.page.cell_at(number, index, name)
        return f"{spot} on the {side.called}" if side.called and not self.page.lettered else spot

    def _within(self, across: tuple[int, int], side: _Side) -> list[str]:
        return [name for name, index in side.index.items() if across[0] <= index <= across[1]]

    def _is_merged(self, number: int, across: tuple[int, int], side: _Side) -> Fault:
        where = f"{letters(across[0])}{number}:{letters(across[1])}{number}"
        message = f"the cells of {listed(self._within(across, side))} are merged into one; allowed: one cell for each"
        return Fault(f"{self.page.name}!{where}", f"{message} column")

    def _id(self, panel: str, number: str) -> str:
        return f"{panel}{self.use.joined_by}{number}"

    def _take(self, row: Row, panel: str, side: _Side, facts: dict[str, Entry]) -> Iterator[Fault]:
        """Takes one circuit, unless it is refused."""
        number, at = row.cells[self.use.circuit], row.at(self.use.circuit)
        nowhere = [what for what, text in (("panel", panel), ("circuit", number)) if text.casefold() in self._nothing]
        if nowhere:
            if facts:  # the second row of a breaker with two poles says nothing more
                yield Fault(at, f"the row gives {listed(facts)} and no {nowhere[0]}; allowed: text")
            return
        circuit = self._id(panel, number)
        faults = [*self._wrong_side(number, at, side), *self._refused(circuit, at, facts)]
        if faults:
            self.panels.circuits.pop(circuit, None)
            self.panels.refused.setdefault(circuit, at)
        else:
            self.panels.circuits[circuit] = Circuit(at, facts)
        yield from faults

    @property
    def _nothing(self) -> frozenset[str]:
        return self.mapping.not_given | {NOTHING}

    def _wrong_side(self, number: str, at: str, side: _Side) -> Iterator[Fault]:
        if self.use.layout != LAYOUTS[2]:
            return
        rest = 1 if side.called == "left" else 0
        numbers = [int(text) for text in _NUMBERS.findall(number)]
        if not numbers or any(each % 2 != rest for each in numbers):
            allowed = "odd numbers" if rest else "even numbers"
            yield Fault(at, f"the circuit `{number}` stands on the {side.called}; allowed there: {allowed}")

    def _refused(self, circuit: str, at: str, facts: Mapping[str, Entry]) -> Iterator[Fault]:
        before = self.panels.circuits.get(circuit)
        if before is not None or circuit in self.panels.refused:
            where = before.place if before is not None else self.panels.refused[circuit]
            yield Fault(at, f"the circuit `{circuit}` stands at {where} already; allowed: once")
        try:
            members = tuple(Member(key, str(entry.at), entry) for key, entry in facts.items())
            self.door.record(Entry(at, Fields(members)), bare_numbers=False)
        except InputFaults as refused:
            yield from refused.faults
