"""Regions with the outcome that is due in them, held against a table: everywhere in each, exactly."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from yokebook import adoption, editions
from yokebook.law import Law
from yokebook.model import Book, Box, Checked, Cite, NoneFires, Rule, Table
from yokebook.model.claimed import Claim
from yokebook.proof.cover import Cover, Region
from yokebook.proof.deciding_rows import Rows, Says
from yokebook.proof.elements import Side, Space, space_of


@dataclass(frozen=True)
class Named:
    """A law with its name for people."""

    name: str
    law: Law


@dataclass(frozen=True)
class Broken:
    """A claim that a table does not keep: in a region of the space it says something else than is due."""

    claim: Claim
    law: str
    space: Space
    region: Region
    says: Says


class Laws:
    """The laws that claims are about, each made once."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self._made: dict[object, Law] = {}

    def of(self, claim: Claim) -> list[Named]:
        """The laws of a claim that was loaded without a fault: one of each edition, or the one of a place."""
        if claim.place is None:
            assert claim.document is not None
            return [self._bare(claim.document, edition) for edition in claim.editions]
        found = adoption.in_force_documents(self.book, claim.place, claim.dates, None, claim.choices)
        for candidates in found.values():
            for each in candidates:
                its = each.resolved
                if its is None or claim.question not in its.tables:
                    continue
                if claim.document in (None, its.document.id, its.document.kind):
                    entry = each.entry.id if each.entry is not None else ""
                    key = (claim.place, its.document.id, entry, each.alternative)
                    if key not in self._made:
                        self._made[key] = Law(its, self.book)
                    return [Named(f"{claim.place} {entry}", self._made[key])]
        return []

    def _bare(self, document: str, edition: str) -> Named:
        key = (document, edition)
        if key not in self._made:
            self._made[key] = Law(editions.resolve_edition(self.book, document, edition), self.book)
        return Named(f"{document} {edition}", self._made[key])


def boxes_as_table(law: Law, question: str, rules: Sequence[tuple[str, Sequence[Box], Sequence[Box], str]]) -> Side:
    """A side whose table has a rule of each (id, where, but_not, then): boxes that are to be cut with a real table."""
    table = law.resolved.tables[question]
    mark, cite = Checked("derived", ""), Cite("", "")
    made = tuple(
        Rule(name, tuple(where), tuple(but_not), then, (), (), "", cite, mark, table.at)
        for name, where, but_not, then in rules
    )
    silent = NoneFires(None, "", None, mark, table.at)
    tables = {**law.resolved.tables, question: Table(question, silent, made, table.at)}
    return Side(Law(replace(law.resolved, tables=tables), law.book), question)


def claims_side(law: Law, question: str, claims: Iterable[Claim]) -> Side:
    """The boxes of claims about one question as a side."""
    rules = [(f"{question}#{claim.id}", claim.where, claim.but_not, claim.expect) for claim in claims]
    return boxes_as_table(law, question, rules)


def regions_of(rows: Rows) -> dict[str, tuple[Region, ...]]:
    """The regions of each claim, by its id, from the rows of a side that `claims_side` made."""
    return {rule.id.rpartition("#")[2]: rows.firing[number] for number, rule in enumerate(rows.rules)}


@dataclass(frozen=True)
class Possible:
    """What of a space can occur."""

    impossible: Cover

    @classmethod
    def of(cls, space: Space) -> Possible:
        """What the ties of a space leave."""
        return cls(Cover(space.widths, space.rows[0].impossible))

    def part(self, region: Region) -> Region | None:
        """A part of a region that can occur, or None."""
        return self.impossible.uncovered(region)


def broken_claims(named: Named, question: str, claims: Sequence[Claim], book: Book) -> list[Broken]:
    """Where the table of a law says something else than its claims do, one part for each claim that is broken; of a
    claim in which nothing can occur, what it says is ("empty", "")."""
    space = space_of([Side(named.law, question), claims_side(named.law, question, claims)], book, tied=True)
    can = Possible.of(space)
    rows = replace(space.rows[0], impossible=())
    regions = regions_of(space.rows[1])
    found: list[Broken] = []
    for claim in claims:
        broken = _broken(rows, can, regions[claim.id], claim.expect)
        if broken is not None:
            found.append(Broken(claim, named.name, space, *broken))
    return found


def _broken(rows: Rows, can: Possible, regions: Sequence[Region], expect: str) -> tuple[Region, Says] | None:
    occurs = False
    for region in regions:
        for leaf in rows.leaves(region):
            due = leaf.says == ("ruled", expect)
            if due and occurs:
                continue
            part = can.part(leaf.region)
            occurs = occurs or part is not None
            if part is not None and not due:
                return leaf.region, leaf.says
    whole = regions[0] if regions else tuple(0 for _ in rows.widths)
    return None if occurs else (whole, ("empty", ""))
