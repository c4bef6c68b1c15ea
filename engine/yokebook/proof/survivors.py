"""Which single faults of a table nothing would notice: neither a region nor a worked case of the rulebook.

A fault that changes no outcome of anything that can occur is none. Nor is one that shows only where the table itself is
in conflict or silent: there nothing is due, and whether such a record can be is looked at with the table itself. All
this is decided exactly, over elements that the table, all its faults and all regions are cut into together.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from yokebook.law import Law, plain_cell
from yokebook.load.faults import RulebookFaults
from yokebook.model import At, Box, Cell, Table
from yokebook.model.claimed import Claim
from yokebook.prevails import prevails
from yokebook.proof.claims import Possible, boxes_as_table, claims_side, regions_of
from yokebook.proof.cover import Region, meet
from yokebook.proof.deciding_rows import RowRule, Rows
from yokebook.proof.differences import Joint, Pair, widest
from yokebook.proof.elements import Side, Space, space_of
from yokebook.proof.mutants import Mutant, Row, mutants
from yokebook.values import Span, intersect

How = Literal[
    "no difference",
    "only where nothing can occur",
    "only where the table says nothing",
    "does not load",
    "region",
    "case",
    "survives",
]


@dataclass(frozen=True)
class Recorded:
    """A worked case as its table sees it: what each input may be, and the outcome that is due.

    `sure`: everything in it can occur as far as the record goes, so that a table that says something else anywhere in
    it rules the case otherwise. Where it is not sure, `ruled` rules the case with a table in the stead of its own and
    gives the word.
    """

    id: str
    expect: str
    inputs: Mapping[str, Sequence[Span]]
    sure: bool
    ruled: Callable[[Table], str]


@dataclass(frozen=True)
class Verdict:
    """What became of a mutant, and through which region or case. Of one that survives, a part where it and the table
    say different things, as found first."""

    mutant: Mutant
    how: How
    by: str = ""
    region: Region | None = None

    @property
    def shows(self) -> bool:
        """Whether the fault changes an outcome of anything that can occur, or keeps the table from loading."""
        return self.how in ("does not load", "region", "case", "survives")


@dataclass(frozen=True)
class Survivor:
    """A fault that nothing notices, and where it shows."""

    rule_id: str
    at: At
    kind: str
    words: str
    region: Region


class Trial:
    """One table of one law with its faults, and what is to notice them."""

    def __init__(
        self,
        law: Law,
        question: str,
        own: Callable[[Row], bool],
        claims: Sequence[Claim],
        cases: Sequence[Recorded] = (),
    ) -> None:
        self.law = law
        self.question = question
        self.table = law.resolved.tables[question]
        self.mutants = list(mutants(law, question, own))
        self.claims = claims
        self.cases = cases

    @cached_property
    def space(self) -> Space:
        """The table, the boxes of all mutants and those of the claims, cut together."""
        boxes = {
            _key(box): box
            for mutant in self.mutants
            for rule in mutant.table.rules
            for box in (*rule.where, *rule.but_not)
        }
        word = next(iter(self.law.book.questions[self.question].outcomes))
        pool = boxes_as_table(self.law, self.question, [(f"{self.question}#all", tuple(boxes.values()), (), word)])
        sides = [Side(self.law, self.question), pool, claims_side(self.law, self.question, self.claims)]
        return space_of(sides, self.law.book, tied=True)

    @cached_property
    def possible(self) -> Possible:
        """What can occur."""
        return Possible.of(self.space)

    @cached_property
    def rows(self) -> Rows:
        """The table over everything, what cannot occur included."""
        return self._rows(self.table)

    @cached_property
    def _regions(self) -> dict[tuple[tuple[str, Cell], ...], Region]:
        """The region of each box of the table and of its mutants."""
        found: dict[tuple[tuple[str, Cell], ...], Region] = {}
        for side, rows in zip(self.space.sides[:2], self.space.rows[:2], strict=True):
            for rule, row in zip(side.ready.rules, rows.rules, strict=True):
                for box, region in zip((*rule.where, *rule.but_not), (*row.where, *row.but_not), strict=True):
                    found[_key(box)] = region
        return found

    def _rows(self, table: Table) -> Rows:
        """A table with boxes that are known here, as rows. Raises RulebookFaults where exceptions go in a circle."""
        over = prevails(table)
        # what a rule prevails over includes all that the losers prevail over, so this puts exceptions first
        ordered = sorted(table.rules, key=lambda rule: (-len(over[rule.id]), rule.id))
        number = {rule.id: i for i, rule in enumerate(ordered)}
        beaten: list[set[int]] = [set() for _ in ordered]
        for winner, losers in over.items():
            for loser in losers:
                beaten[number[loser]].add(number[winner])
        rules = tuple(
            RowRule(rule.id, rule.then, self._of(rule.where), self._of(rule.but_not), frozenset(beaten[i]))
            for i, rule in enumerate(ordered)
        )
        return Rows(self.space.widths, rules, table.none_fires.then)

    def _of(self, boxes: Iterable[Box]) -> tuple[Region, ...]:
        return tuple(self._regions[_key(box)] for box in boxes)

    # ---- what notices -----------------------------------------------------------------------------------------------

    @cached_property
    def _due(self) -> list[tuple[str, Region, str]]:
        """The regions of the claims: the claim's id, a region, the outcome due there."""
        expect = {claim.id: claim.expect for claim in self.claims}
        regions = regions_of(self.space.rows[2])
        return [(name, region, expect[name]) for name, its in regions.items() for region in its]

    @cached_property
    def _recorded(self) -> list[tuple[Recorded, Region]]:
        """The cases, each with all that its inputs may be."""
        found: list[tuple[Recorded, Region]] = []
        for case in self.cases:
            masks = list(self.space.whole)
            for i, name in enumerate(self.space.names):
                if name in case.inputs:
                    masks[i] = _mask(self.space.elements[i], case.inputs[name])
            found.append((case, tuple(masks)))
        return found

    def verdicts(self) -> list[Verdict]:
        """What becomes of each mutant. Raises NotDecided past the budget of states."""
        return [self.verdict(mutant) for mutant in self.mutants]

    def verdict(self, mutant: Mutant) -> Verdict:
        """What becomes of one mutant."""
        try:
            rows = self._rows(mutant.table)
        except RulebookFaults:
            return Verdict(mutant, "does not load")
        first: Region | None = None
        how: How = "no difference"
        pairs: list[Pair] = []
        for pair in Joint(self.rows, rows).pairs():
            part = self.possible.part(pair.region)
            if part is None:
                how = "only where nothing can occur" if how == "no difference" else how
                continue
            if pair.was[0] != "ruled":
                how = "only where the table says nothing"
                continue
            first = part if first is None else first
            pairs.append(pair)
            by = self._claim_over(pair)
            if by is not None:
                return Verdict(mutant, "region", by)
        if first is None:
            return Verdict(mutant, how)
        by = self._case_over(pairs, mutant)
        return Verdict(mutant, "survives", region=first) if by is None else Verdict(mutant, "case", by)

    def _claim_over(self, pair: Pair) -> str | None:
        """A claim in whose region something can occur of which the mutant does not say what is due."""
        for name, region, expect in self._due:
            if pair.now == ("ruled", expect):
                continue
            both = meet(pair.region, region)
            if both is not None and self.possible.part(both) is not None:
                return name
        return None

    def _case_over(self, pairs: Sequence[Pair], mutant: Mutant) -> str | None:
        """A case that the mutant rules otherwise than is due."""
        for case, region in self._recorded:
            over = [pair for pair in pairs if meet(pair.region, region) is not None]
            if not over:
                continue
            if case.sure:
                if any(pair.now != ("ruled", case.expect) for pair in over):
                    return case.id
            elif case.ruled(mutant.table) != case.expect:
                return case.id
        return None

    # ---- survivors --------------------------------------------------------------------------------------------------

    def survivor(self, verdict: Verdict) -> Survivor:
        """A mutant that survives, with the widest region where it shows. Raises NotDecided."""
        assert verdict.region is not None
        mutant = verdict.mutant
        at = next((rule.at for rule in self.table.rules if rule.id == mutant.rule_id), self.table.none_fires.at)
        return Survivor(mutant.rule_id, at, mutant.kind, mutant.words, self.widened(mutant, verdict.region))

    def widened(self, mutant: Mutant, region: Region) -> Region:
        """A region where a mutant differs, made as wide as the two say the same two things of all that can occur."""
        rows = self._rows(mutant.table)
        first = next(Joint(self.rows, rows).pairs(region))

        def still(part: Region) -> bool:
            return all(
                (pair.was, pair.now) == (first.was, first.now) or self.possible.part(pair.region) is None
                for pair in Joint(self.rows, rows).pairs(part, all_of_them=True)
            )

        return widest(region, self.space, still)


def _key(box: Box) -> tuple[tuple[str, Cell], ...]:
    return tuple(sorted(box.items(), key=lambda cell: cell[0]))


def _mask(elements: Sequence[Span], spans: Sequence[Span]) -> int:
    """The elements of an input that have something in common with what it may be."""
    return sum(1 << e for e, element in enumerate(elements) if any(intersect(element, span) for span in spans))


def content(law: Law, question: str) -> object:
    """What a table says, whoever wrote it: equal for two laws whose tables for a question rule the same."""
    ready, values = law.ready(question), law.resolved.values

    def plain(boxes: Iterable[Box]) -> frozenset[object]:
        return frozenset(_key({name: plain_cell(cell, values, name) for name, cell in box.items()}) for box in boxes)

    rules = [
        (rule.id, rule.then, plain(rule.where), plain(rule.but_not), frozenset(ready.rules[n].id for n in beaten))
        for rule, beaten in zip(ready.rules, ready.beaten_by, strict=True)
    ]
    return (frozenset(rules), ready.table.none_fires.then)
