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
        try:
            hole = rows.cover.uncovered(space.whole, states=self.states)
        except NotDecided:
            yield self._undecided("the table is silent somewhere", [self._table])
            return
        if hole is None:
            return
        firing = rows.cover.all & ~rows.impossible_bits
        region = widest(hole, space, lambda part: not rows.cover.overlapping(part, firing))
        near = self._nearest(region)
        says = f"`{self.question}` must not be silent, and no rule says anything here"
        repairs = [f"add a rule for this region, or give `{self.question}` an answer where none fires"]
        repairs += [f"widen the cell on `{name}` of `{rule.id}`" for rule, name in near]
        blamed = [blamed_rule(rule) for rule, _ in near] or [self._table]
        yield self._shown("gap", says, region, hole, blamed, repairs, "silent")

    def _nearest(self, region: Region) -> list[tuple[Rule, str]]:
        """The rules that miss a region by one cell, and which cell: those of which most other cells hold all over it."""
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
        region: Region,
        hole: Region,
        blamed: Sequence[Blamed],
        repairs: Sequence[str],
        status: str,
    ) -> Finding:
        """A finding with its witness: an error where a raw record has it, a note where none was found."""
        space = self.space
        boundary = at_boundary(space, region)
        if boundary:
            says += f"; it is only where {' and '.join(self._exactly(region, boundary))}"
        record = self._record(region, hole, status)
        data = None if record is None else record_data(self.book, record)
        return self._finding(
            kind,
            "error" if record is not None else "note",
            says,
            blamed,
            region=tuple(region_data(space, region)),
            boundary=tuple(boundary),
            point=point_data(self.book, point_of(space, hole)),
            reachable="shown" if record is not None else "not shown",
            record=data,
            repairs=tuple(repairs),
        )

    def _record(self, region: Region, hole: Region, status: str) -> Realised | None:
        """A raw record in a region; where the widest has none within the steps, in the part first found."""
        wanted = self.space.spans(region)
        return self.realiser.find(self.question, wanted, status) or (
            None if region == hole else self.realiser.find(self.question, self.space.spans(hole), status)
        )

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
            if clash.region is None:
                yield self._undecided(f"`{one.id}` and `{other.id}` contradict each other", blamed)
                continue
            region = self._widest_clash(rows, clash.one, clash.other, clash.region)
            each = f"`{one.id}` says {one.then} and `{other.id}` says {other.then}"
            says = f"{each} of the same record, and neither prevails"
            yield self._shown("conflict", says, region, clash.region, blamed, _which(one, other), "conflict")

    def _widest_clash(self, rows: Rows, one: int, other: int, region: Region) -> Region:
        over = rows.boxes_over(rows.rules[one].beaten_by | rows.rules[other].beaten_by) & ~rows.impossible_bits
        common = [both for a in rows.firing[one] for b in rows.firing[other] if (both := meet(a, b)) is not None]
        home = next(both for both in common if inside(region, both))
        return widest(region, self.space, lambda part: inside(part, home) and not rows.cover.overlapping(part, over))

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


def silent_regions(space: Space, states: int = STATES, most: int = MOST_SILENT_REGIONS) -> tuple[list[Region], int]:
    """The widest regions of a space's first table in which no rule fires, and 1 where there are more than `most`."""
    rows = space.rows[0]
    boxes = list(rows.cover.boxes)
    firing = rows.cover.all & ~rows.impossible_bits
    found: list[Region] = []
    while True:
        try:
            hole = Cover(space.widths, [*boxes, *found]).uncovered(space.whole, states=states)
        except NotDecided:
            return found, 1
        if hole is None:
            return found, 0
        if len(found) == most:
            return found, 1
        found.append(widest(hole, space, lambda part: not rows.cover.overlapping(part, firing)))


def _which(one: Rule, other: Rule) -> tuple[str, ...]:
    """The two ways to mend a conflict, each way round."""
    return (
        f"say which prevails: `exception_to: [{_own(other.id)}]` in `{one.id}`, or `exception_to: [{_own(one.id)}]` in "
        f"`{other.id}` (in a layer, `prevails_over`)",
        f"narrow `{one.id}` or `{other.id}` so that they do not meet",
    )


def _own(rule_id: str) -> str:
    return rule_id.rpartition("#")[2]

