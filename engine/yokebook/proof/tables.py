"""The exact analysis of one table in one law: gaps, conflicts, rules that never decide, redundant rules, empty cells,
and what it answers where no rule fires."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations

from yokebook.model import Book, Rule
from yokebook.proof.conflicts import clashes
from yokebook.proof.cover import STATES, Cover, NotDecided, Region, inside, meet
from yokebook.proof.deciding_rows import Rows
from yokebook.proof.differences import Joint, at_boundary, widest
from yokebook.proof.elements import Side, Space, space_of
from yokebook.proof.findings import Blamed, Finding, Severity, blamed_rule, written_by
from yokebook.proof.laws import Standing
from yokebook.proof.realise import Realised, Realiser
from yokebook.proof.shown import point_data, point_of, record_data, region_data
from yokebook.showing import show_cell, unit_of

#: How many regions with one fault are looked into for a record that shows it.
MOST_HOLES = 4

#: How many regions are told of what a table answers where no rule fires.
MOST_SILENT_REGIONS = 4


@dataclass
class TableCheck:
    """One table of one law under analysis."""

    book: Book
    standing: Standing
    question: str
    realiser: Realiser
    states: int = STATES

    @cached_property
    def space(self) -> Space:
        """The table over what its inputs can have in this law, combinations that cannot be left out."""
        return space_of([Side(self.standing.law, self.question)], self.book, tied=True)

    @cached_property
    def wide(self) -> Space:
        """The table over every value of its inputs, lower answers that are not given in this law included."""
        return space_of([Side(self.standing.law, self.question)], self.book, all_answers=True)

    @property
    def rules(self) -> list[Rule]:
        """The rules in the order of the rows."""
        return self.standing.law.ready(self.question).rules

    def findings(self) -> Iterator[Finding]:
        """Everything found, in no order."""
        yield from self._empty_cells()
        yield from self._gap()
        yield from self.conflicts()
        yield from self._never_deciding()
        yield from self._redundant()
        yield from self._where_none_fires()

    def _finding(self, kind: str, severity: Severity, says: str, blamed: Sequence[Blamed], **parts: object) -> Finding:
        made = Finding(kind, severity, says, self.question, (self.standing.name,), tuple(blamed))
        return replace(made, at=blamed[0].at if blamed else None, **parts)  # type: ignore[arg-type]

    def _undecided(self, what: str, blamed: Sequence[Blamed]) -> Finding:
        says = f"whether {what} is not decided: it would take more than {self.states:,} steps"
        return self._finding("not decided", "not decided", says, blamed)

    @property
    def _table(self) -> Blamed:
        table = self.standing.law.resolved.tables[self.question]
        return Blamed(self.question, table.none_fires.at)

    # ---- cells that nothing fits ----------------------------------------------------------------------------------

    def _empty_cells(self) -> Iterator[Finding]:
        for empty in self.wide.empty_cells:
            rule = self.rules[empty.rule]
            unit = unit_of(self.book, empty.name)
            wanted = show_cell(empty.cell, unit)
            says = f"no value of `{empty.name}` is {wanted}, so this box of `{rule.id}` never holds"
            repairs = (f"widen the cell on `{empty.name}`, or take the box out",)
            yield self._finding("empty cell", "error", says, [blamed_rule(rule)], repairs=repairs)

    # ---- gaps -----------------------------------------------------------------------------------------------------

    def _gap(self) -> Iterator[Finding]:
        space, rows = self.space, self.space.rows[0]
        if rows.none_fires is not None:
            return
        firing = rows.cover.all & ~rows.impossible_bits
        try:
            holes = list(holes_in(space, [space.whole], rows.cover.all, firing, self.states))
        except NotDecided:
            yield self._undecided("the table is silent somewhere", [self._table])
            return
        if not holes:
            return
        hole, record = self._first_shown(holes, "silent")
        near = self._nearest(hole.widest)
        says = f"`{self.question}` must not be silent, and no rule says anything here"
        repairs = [f"add a rule for this region, or give `{self.question}` an answer where none fires"]
        repairs += [f"widen the cell on `{name}` of `{rule.id}`" for rule, name in near]
        blamed = [blamed_rule(rule) for rule, _ in near] or [self._table]
        yield self._shown("gap", says, hole, record, blamed, repairs)

    def _nearest(self, region: Region) -> list[tuple[Rule, str]]:
        """The rules that miss a region by one cell, and which: those of which most other cells hold all over it."""
        found: dict[tuple[int, str], int] = {}
        for number, rule in enumerate(self.space.rows[0].rules):
            for box in rule.where:
                missed = [i for i, mask in enumerate(box) if not mask & region[i]]
                if len(missed) == 1:
                    held = sum(mask != whole and not region[i] & ~mask for i, (mask, whole) in self._masks(box))
                    key = (number, self.space.names[missed[0]])
                    found[key] = max(held, found.get(key, 0))
        most = max(found.values(), default=0)
        return [(self.rules[number], name) for (number, name), held in found.items() if held == most]

    def _masks(self, box: Region) -> Iterator[tuple[int, tuple[int, int]]]:
        return enumerate(zip(box, self.space.whole, strict=True))

    def _shown(
        self,
        kind: str,
        says: str,
        hole: Hole,
        record: Realised | None,
        blamed: Sequence[Blamed],
        repairs: Sequence[str],
    ) -> Finding:
        """A finding with its witness: an error where a raw record has it, a note where none was found."""
        space, region = self.space, hole.widest
        boundary = at_boundary(space, region)
        if boundary:
            says += f"; it is only where {' and '.join(self._exactly(region, boundary))}"
        data = None if record is None else record_data(self.book, record)
        return self._finding(
            kind,
            "error" if record is not None else "note",
            says,
            blamed,
            region=tuple(region_data(space, region)),
            boundary=tuple(boundary),
            point=point_data(self.book, point_of(space, hole.part)),
            reachable="shown" if record is not None else "not shown",
            record=data,
            repairs=tuple(repairs),
        )

    def _first_shown(self, holes: Sequence[Hole], status: str) -> tuple[Hole, Realised | None]:
        """The first of several regions of which a raw record is found, with it; the first of all where none is."""
        for hole in holes:
            for region in dict.fromkeys((hole.widest, hole.part)):
                record = self.realiser.find(self.question, self.space.spans(region), status)
                if record is not None:
                    return hole, record
        return holes[0], None

    def _exactly(self, region: Region, names: Sequence[str]) -> list[str]:
        words = {each["input"]: each["is"] for each in region_data(self.space, region)}
        return [f"`{name}` is exactly {words[name]}" for name in names if name in words]

    # ---- conflicts ------------------------------------------------------------------------------------------------

    def conflicts(self) -> Iterator[Finding]:
        """Each two rules that contradict each other somewhere: an error where a record has it, a note where none was
        found."""
        rows = self.space.rows[0]
        for clash in clashes(rows, self.states):
            one, other = self.rules[clash.one], self.rules[clash.other]
            blamed = [blamed_rule(one), blamed_rule(other)]
            try:
                holes = [] if clash.region is None else self._clash(rows, clash.one, clash.other)
            except NotDecided:
                holes = []
            if not holes:
                yield self._undecided(f"`{one.id}` and `{other.id}` contradict each other", blamed)
                continue
            hole, record = self._first_shown(holes, "conflict")
            each = f"`{one.id}` says {one.then} and `{other.id}` says {other.then}"
            says = f"{each} of the same record, and neither prevails"
            yield self._shown("conflict", says, hole, record, blamed, self._which(one, other))

    def _which(self, one: Rule, other: Rule) -> tuple[str, ...]:
        """The two ways to mend a conflict, each way round."""
        if self.standing.below is None:
            ways = (f"`exception_to: [{_own(b.id)}]` in `{a.id}`" for a, b in ((one, other), (other, one)))
            which = f"{', or '.join(ways)} (in a layer, `prevails_over`)"
        else:
            which = f"{self._made_to_prevail(one, other)}; or {self._made_to_prevail(other, one)}"
        return f"say which prevails: {which}", f"narrow `{one.id}` or `{other.id}` so that they do not meet"

    def _made_to_prevail(self, rule: Rule, over: Rule) -> str:
        """How amendments make one rule prevail: by its own words if they wrote them, else by an op of their own."""
        if any(step.op in ("add", "replace") and step.by in self.standing.steps for step in rule.chain):
            return f"put `{_own(over.id)}` into the `exception_to` of `{rule.id}`"
        return f"`prevails_over: {rule.id}` with `over: [{over.id}]` as an op of its own"

    def _clash(self, rows: Rows, one: int, other: int) -> list[Hole]:
        """The regions in which two rules stand together."""
        over = rows.boxes_over(rows.rules[one].beaten_by | rows.rules[other].beaten_by)
        common = [both for a in rows.firing[one] for b in rows.firing[other] if (both := meet(a, b)) is not None]
        return list(holes_in(self.space, common, over, over & ~rows.impossible_bits, self.states))

    # ---- rules that decide nothing --------------------------------------------------------------------------------

    def _never_deciding(self) -> Iterator[Finding]:
        rows = self.wide.rows[0]
        for number, rule in enumerate(self.rules):
            try:
                covered = self._covered(rows, number, rows.rules[number].beaten_by)
            except NotDecided:
                yield self._undecided(f"`{rule.id}` ever decides", [blamed_rule(rule)])
                continue
            if not covered:
                continue
            over, smallest = self._smallest_cover(rows, number)
            yield self._dead(rule, [self.rules[winner] for winner in over], smallest=smallest)

    def _covered(self, rows: Rows, number: int, over: frozenset[int]) -> bool:
        """Whether some rules, and what cannot be, take in all of where a rule fires."""
        among = rows.boxes_over(over)
        return all(rows.cover.uncovered(region, among, self.states) is None for region in rows.firing[number])

    def _smallest_cover(self, rows: Rows, number: int) -> tuple[tuple[int, ...], bool]:
        """The fewest rules that leave a rule nothing to decide: none, one or two tried exhaustively, else a set out of
        which none can be left."""
        beaten = sorted(rows.rules[number].beaten_by)
        for size in (0, 1, 2):
            for few in combinations(beaten, size):
                if self._covered(rows, number, frozenset(few)):
                    return few, True
        kept = list(beaten)
        for each in beaten:
            if self._covered(rows, number, frozenset(kept) - {each}):
                kept.remove(each)
        return tuple(kept), False

    def _dead(self, rule: Rule, over: Sequence[Rule], *, smallest: bool) -> Finding:
        blamed = [blamed_rule(rule), *(blamed_rule(winner) for winner in over)]
        if not over:
            says = f"`{rule.id}` never decides anything: no record that can be is in its boxes"
            repairs = ["take the rule out, or mend its cells"]
        else:
            names = " and ".join(f"`{winner.id}`" for winner in over)
            prevail = "prevails" if len(over) == 1 else "prevail"
            fewest = "" if smallest else "; none of these can be left out, but fewer others might do"
            says = f"`{rule.id}` never decides anything: wherever it fires, {names} {prevail}{fewest}"
            repairs = [f"narrow {names} so that something is left to `{rule.id}`", f"take `{rule.id}` out"]
        severity = self._severity_of_dead(rule)
        return self._finding("rule that never decides", severity, says, blamed, repairs=tuple(repairs))

    def _severity_of_dead(self, rule: Rule) -> Severity:
        """An error in a text's own rules, and where an edition leaves a rule dead; a note where a local layer does."""
        return "error" if self._own(rule) else "note"

    def _own(self, rule: Rule) -> bool:
        """Whether a rule is this law's own affair: any in an edition, those that its layers touch in a place."""
        return self.standing.below is None or written_by(rule) in self.standing.steps

    def _redundant(self) -> Iterator[Finding]:
        rows = self.wide.rows[0]
        for number, rule in enumerate(self.rules):
            if not rows.firing[number] or not self._own(rule):
                continue
            without = replace(rows.rules[number], where=(), but_not=())
            less = replace(rows, rules=(*rows.rules[:number], without, *rows.rules[number + 1 :]))
            try:
                differs = any(
                    next(Joint(rows, less, self.states).pairs(region), None) is not None
                    for region in rows.firing[number]
                )
            except NotDecided:
                yield self._undecided(f"`{rule.id}` is redundant", [blamed_rule(rule)])
                continue
            if not differs and not self._covered(rows, number, rows.rules[number].beaten_by):
                says = f"`{rule.id}` could be left out: everywhere it fires the table says {rule.then} without it too"
                yield self._finding("redundant rule", "note", says, [blamed_rule(rule)])

    # ---- where no rule fires --------------------------------------------------------------------------------------

    def _where_none_fires(self) -> Iterator[Finding]:
        rows, space = self.space.rows[0], self.space
        if rows.none_fires is None:
            return
        regions, more = silent_regions(space, self.states)
        if regions:
            says = f"where no rule fires, `{self.question}` says {rows.none_fires}"
            told = [tuple(region_data(space, region)) for region in regions]
            parts = {"region": told[0], "regions": tuple(told[1:]), "more_regions": more}
            yield self._finding("where no rule fires", "note", says, [self._table], **parts)


@dataclass(frozen=True)
class Hole:
    """A part of a space that some boxes leave out, as found, and made as wide as it can be."""

    part: Region
    widest: Region


def holes_in(
    space: Space, homes: Sequence[Region], among: int, without: int, states: int, most: int = MOST_HOLES
) -> Iterator[Hole]:
    """Parts of the homes that the boxes in `among` leave out, up to `most`, none in the widened others. What is added
    to widen a part touches no box in `without` and stays in its home.

    Raises NotDecided past the budget of states.
    """
    rows = space.rows[0]
    found: list[Region] = []
    for home in homes:
        while len(found) < most:
            cover = Cover(space.widths, [*rows.cover.boxes, *found])
            told = ((1 << len(found)) - 1) << len(rows.cover.boxes)
            part = cover.uncovered(home, among | told, states)
            if part is None:
                break

            def still(added: Region, home: Region = home) -> bool:
                return inside(added, home) and not rows.cover.overlapping(added, without)

            found.append(widest(part, space, still))
            yield Hole(part, found[-1])


def silent_regions(space: Space, states: int = STATES, most: int = MOST_SILENT_REGIONS) -> tuple[list[Region], int]:
    """The widest regions of a space's first table in which no rule fires, and 1 where there are more than `most`."""
    rows = space.rows[0]
    firing = rows.cover.all & ~rows.impossible_bits
    found: list[Region] = []
    try:
        for hole in holes_in(space, [space.whole], rows.cover.all, firing, states, most + 1):
            found.append(hole.widest)
    except NotDecided:
        return found[:most], 1
    return found[:most], int(len(found) > most)


def _own(rule_id: str) -> str:
    return rule_id.rpartition("#")[2]

