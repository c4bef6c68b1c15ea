"""The check of a whole rulebook, or of the law in force for one place and day."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from yokebook.code import Code
from yokebook.law import LawFault
from yokebook.load.faults import Fault
from yokebook.model import At, Book
from yokebook.pins import digest_of_table
from yokebook.progress import Progress, nobody
from yokebook.proof.compared import Compared
from yokebook.proof.cover import STATES
from yokebook.proof.findings import Blamed, Finding, Report, in_order
from yokebook.proof.laws import Standing, bare_editions, of_code, place_laws
from yokebook.proof.places import hole_findings, pin_findings, relaxing_findings, unused_layer_findings
from yokebook.proof.readings import idle_findings, twice_chosen_findings
from yokebook.proof.realise import Realiser
from yokebook.proof.tables import TableCheck


def check_book(
    book: Book, only: frozenset[str] | None = None, states: int = STATES, progress: Progress = nobody
) -> Report:
    """Everything that can be found in a rulebook that loads: every resolved table of every edition and of every entry
    of every place, pins, lines of time and readings.

    `only` holds the places to look at; then the bare editions are left out. Tables that are the same in several laws
    are analysed once. `states` is the budget of one question; past it a finding says that it was not decided.
    `progress` is told of the laws.
    """
    editions = list(bare_editions(book))
    places = list(place_laws(book, only))
    looked_at = places if only is not None else [*editions, *places]
    tables = _Tables(book, states)
    findings = [*tables.of(looked_at, progress)]
    findings += pin_findings(book, only)
    findings += unused_layer_findings(book, only)
    findings += hole_findings(book, only)
    findings += twice_chosen_findings(book, places)
    if only is None:
        findings += idle_findings(book, editions)
    return Report(tuple(in_order(findings)), len(looked_at), tables.different, tables.rules)


def check_code(code: Code, states: int = STATES) -> Report:
    """As `check_book`, for the documents that one code has in force."""
    standings = list(of_code(code))
    tables = _Tables(code.book, states)
    findings = list(tables.of(standings))
    return Report(tuple(in_order(findings)), len(standings), tables.different, tables.rules)


def conflicts_of(code: Code, question: str, kind: str) -> list[str]:
    """What keeps the table of one question from being read first match: each conflict of which a record was found, and
    each that was not decided, as a sentence."""
    found: list[str] = []
    for standing in of_code(code):
        if standing.law.kind == kind and standing.law.answers(question):
            realiser = Realiser(code.book, standing.law, standing.in_force)
            check = TableCheck(code.book, standing, question, realiser)
            found += [each.says for each in check.conflicts() if each.severity in ("error", "not decided")]
    return found


class _Tables:
    """Tables analysed once for all laws in which they are the same."""

    def __init__(self, book: Book, states: int) -> None:
        self.book = book
        self.states = states
        self.different = 0
        self._digests: dict[tuple[int, int, str], str] = {}
        self._compared = Compared()
        self.rules = 0

    def of(self, standings: Sequence[Standing], progress: Progress = nobody) -> Iterator[Finding]:
        """The findings of every table of these laws, each with all the laws it is in; and what layers relax.

        What an edition has and a law over it has too is told once, of the edition.
        """
        found: dict[tuple[str, str, bool], list[Finding]] = {}
        laws: dict[tuple[str, str, bool], list[str]] = {}
        for number, standing in enumerate(standings):
            progress(number, len(standings))
            realiser = Realiser(self.book, standing.law, standing.in_force)
            for question in standing.law.resolved.tables:
                key = (self._digest(standing, question), question, standing.layered)
                laws.setdefault(key, []).append(standing.name)
                if key not in found:
                    found[key] = self._of_table(standing, question, realiser)
            yield from relaxing_findings(self.book, standing, realiser, self._compared)
        told: list[Finding] = []
        for (digest, question, layered), findings in found.items():
            for finding in findings:
                same = [n for n, other in enumerate(told) if _same(finding, other, layered=layered)]
                its_laws = tuple(laws[digest, question, layered])
                if same:
                    told[same[0]] = replace(told[same[0]], laws=(*told[same[0]].laws, *its_laws))
                else:
                    told.append(replace(finding, laws=its_laws))
        order = {standing.name: number for number, standing in enumerate(standings)}
        yield from (replace(each, laws=tuple(sorted(each.laws, key=order.__getitem__))) for each in told)

    def _digest(self, standing: Standing, question: str) -> str:
        """The digest of a table with all that it reaches; worked out once for a text that several entries adopt."""
        resolved = standing.law.resolved
        key = (id(resolved.tables), id(resolved.values), question)
        if key not in self._digests:
            self._digests[key] = digest_of_table(resolved, self.book, question)
        return self._digests[key]

    def _of_table(self, standing: Standing, question: str, realiser: Realiser) -> list[Finding]:
        self.different += 1
        self.rules += len(standing.law.resolved.tables[question].rules)
        try:
            return list(TableCheck(self.book, standing, question, realiser, self.states).findings())
        except LawFault as fault:
            table = standing.law.resolved.tables[question]
            blamed = (Blamed(question, table.at),)
            return [Finding("not decided", "not decided", str(fault), question, blamed=blamed, at=table.at)]


def _same(finding: Finding, told: Finding, *, layered: bool) -> bool:
    """Whether a finding is told already: the same rules to blame for the same thing and, of an edition, the same
    region. Amendments may narrow the region in which their edition's own fault shows; it is still that fault."""
    return (
        (finding.kind, finding.question, finding.says) == (told.kind, told.question, told.says)
        and [each.id for each in finding.blamed] == [each.id for each in told.blamed]
        and (layered or (finding.region, finding.regions) == (told.region, told.regions))
    )


def load_findings(faults: Iterable[Fault]) -> list[Finding]:
    """The faults of a rulebook that does not load, as findings."""
    found: list[Finding] = []
    for fault in faults:
        at = fault.at if isinstance(fault.at, At) else None
        says = fault.message if at is not None else str(fault)
        found.append(Finding("fault in a file", "error", says, at=at))
    return found
