"""The shipped rulebook's rows, whatever they say: each is cited, says on whose word it stands, and is in our own words.

What a row decides is tested elsewhere; here is what an auditor would go through row by row.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import pytest

import yokebook_adapters
from shipped_book import book, rulebook
from yokebook import Code, Rulebook, shipped
from yokebook.load.faults import Fault
from yokebook.load.files import read_file
from yokebook.load.nodes import MappingNode, Node, Scalar, SequenceNode, plain_data
from yokebook.model import Checked, Cite, Op

FOLDER = shipped.folder("rulebook")
YAML = sorted(path.relative_to(FOLDER).as_posix() for path in FOLDER.rglob("*.yaml"))
PINS = sorted(path.relative_to(FOLDER).as_posix() for path in FOLDER.rglob("*.json"))

#: A source that can be found again: an address, or a public document by its name and section.
ADDRESS = re.compile(r"https?://[^\s,;)]+\.[^\s,;)]+")
PUBLIC_DOCUMENT = re.compile(
    r"\b(D\.C\. Mun\. Regs\. tit\. \d+|DCMR|WAC \d+|Washington Administrative Code|Local Law \d+"
    r"|California Code of Regulations|International Residential Code 20\d\d|Utah Code \d+A-\d+-\d+)\b"
)
INVENTED = re.compile(r"^the invented .+ itself, written for this rulebook$")
#: Tags of somebody's notes, such as [S7], [M] or W22; Article 406(B)(1) and R03 are none.
NOTE_TAG = re.compile(r"\[[A-Z]\d{0,3}\]|\b[STW]\d{1,3}\b(?!\))")
#: Nobody is named: no person, no firm. Addresses are held against HOSTS instead.
SOMEBODY = re.compile(
    r"\b(Mr|Mrs|Ms|Dr|Prof)\.? [A-Z]|\b(Inc|Corp|Co|Ltd|LLC|GmbH)\b\.?|®|™"
    r"|\b(interview(ed)?|told (me|us)|application note|data sheet of)\b"
)
#: Where sources stand: public bodies, publishers of laws and codes, associations, the trade press, courses, forums. A
#: new one is looked at before it is added: it is no maker's, no firm's and nobody's own page, no place for copies that
#: people share, and no product that looks codes up or checks against them.
HOSTS = {
    *("apps.leg.wa.gov", "lawfilesext.leg.wa.gov", "lni.wa.gov", "dcra.dc.gov", "dcregs.dc.gov", "law.cornell.edu"),
    *("casetext.com", "print.casetext.com", "mirules.elaws.us", "nyc.legistar1.com", "fastdemocracy.com"),
    *("electrical.sanfranciscocode.org", "codes.iccsafe.org", "vaccines.phila.gov", "facilities.soe.ucsc.edu"),
    *("ecmweb.com", "ecmag.com", "iaeimagazine.org", "necconnect.org", "neca-neis.org", "nema.org", "ul.com"),
    *("lightingcontrolsacademy.org", "migration.lightdirectory.com"),
    *("electricallicenserenewal.com", "jadelearning.com", "codebookcity.com", "utilitiesbunker.com", "biaw.com"),
    *("thebuildingcodeforum.com", "controlbooth.com", "diybanter.com", "diychatroom.com", "diy.stackexchange.com"),
    *("electrical-contractor.net", "plugsocketmuseum.nl", "immunize.org", "gravel2gavel.com"),
    *("online.flipbuilder.com", "yumpu.com"),
    # States, cities and counties, and the federal government.
    *("ecfr.gov", "energycodes.gov", "osha.gov", "ars.apps.lara.state.mi.us", "dgs.ca.gov", "dli.mn.gov", "mass.gov"),
    *("docs.legis.wisconsin.gov", "docs-preview.legis.wisconsin.gov", "le.utah.gov", "legis.iowa.gov", "ncbeec.org"),
    *("ncdoi.com", "oregon.gov", "sos.state.tx.us", "texreg.sos.state.tx.us", "tdlr.texas.gov", "state.nj.us"),
    *("arapahoe.legistar.com", "chicago.legistar.com", "lodica.legistar.com", "ncrecords.nationalcityca.gov"),
    *("clerk.seattle.gov", "seattle.gov", "portland.gov", "nyc.gov", "highlandsfl.gov"),
    # Publishers of laws and codes.
    *("codelibrary.amlegal.com", "codepublishing.com", "vancouver.municipal.codes", "ecode360.com"),
    *("codes.findlaw.com", "regulations.justia.com", "oregon.public.law"),
    # Associations, the trade press, courses, textbooks, forums.
    *("aiaoregon.org", "blog.housingfirstmn.org", "ghba.org", "icc-nta.org", "insights.ieci.org", "nahb.org"),
    *("ohsonline.com", "leeduser.buildinggreen.com", "forum.nachi.org", "expertce.com", "jade1.com"),
    "g-wonlinetextbooks.com",
}
LONGEST_SENTENCE = 45
#: Articles that the 2026 edition reorders: nobody read where their rules went or what they now say.
REORDERED = re.compile(r"^(Article )?(404|406|220|750)\b")
#: What was read of them all the same: a course prints the list of places for tamper-resistant receptacles as it stands
#: in 2026, 406.26 (in 2023 406.12). These rows say what the list says; its exceptions, and clinics, stay assumed.
READ_IN_2026 = {
    "protection.tamper-resistant#listed-place",
    *(
        f"protection.tamper-resistant-place#{place}"
        for place in (
            *("dwelling", "guest-room", "common-area", "child-care", "school", "other-school", "gathering"),
            *("dormitory", "assisted-living", "other-care", "farm"),
        )
    ),
}


@dataclass(frozen=True)
class Row:
    """One row: where it is, its cite if it has one, and its mark."""

    name: str
    cite: Cite | None
    checked: Checked
    needs_cite: bool = True


@cache
def node(file: str) -> Node:
    faults: list[Fault] = []
    found = read_file(FOLDER / file, file, faults)
    assert found is not None, faults
    return found


def rows() -> Iterator[Row]:
    """Every row of the shipped rulebook."""
    for (document, edition), each in book().editions.items():
        where = f"{document} {edition}"
        for table in each.tables:
            for rule in table.rules:
                yield Row(f"{where} {rule.id}", rule.cite, rule.checked)
            none = table.none_fires
            yield Row(f"{where} {table.question}#none_fires", none.cite, none.checked, needs_cite=False)
        for value in each.values:
            yield Row(f"{where} value.{value.id}", value.cite, value.checked)
        for carried in each.carried:
            yield Row(f"{where} carried {', '.join(carried.rules)}", None, carried.checked, needs_cite=False)
        for op in each.changes:
            yield from op_rows(where, op)
    for calculation in book().calculations.values():
        yield Row(calculation.id, calculation.cite, calculation.checked, calculation.checked.mark != "derived")
    for place in book().places.values():
        for layer in place.layers.values():
            for amendment in layer.amendments:
                yield Row(f"{place.id} {amendment.id}", amendment.cite, amendment.checked)
                for op in amendment.ops:
                    yield from op_rows(f"{place.id} {amendment.id}", op)


def op_rows(where: str, op: Op) -> Iterator[Row]:
    """What one op of an edition or an amendment brings."""
    for made in (op.rule, op.value):
        if made is not None:
            yield Row(f"{where} {op.op} {op.target}", made.cite, made.checked)
    if op.none_fires is not None:
        yield Row(f"{where} {op.op} {op.target}", op.none_fires.cite, op.none_fires.checked, needs_cite=False)
    if op.checked is not None:
        yield Row(f"{where} {op.op} {op.target}", op.cite, op.checked)


ROWS = list(rows())


def texts(part: Node, key: str = "") -> Iterator[tuple[str, str, str]]:
    """Every text of a file: the key it stands under, its line, and itself."""
    if isinstance(part, MappingNode):
        for name, entry in part.entries.items():
            yield from texts(entry.value, name)
    elif isinstance(part, SequenceNode):
        for item in part.items:
            yield from texts(item, key)
    elif isinstance(part, Scalar):
        yield key, str(part.at), part.text


def sources() -> Iterator[tuple[str, str]]:
    """Every source and holder of the rulebook, with where it stands: marks, readings, cases, entries of places."""
    keys = {"seen", "memory", "assumed", "derived", "source", "holders", "how_checked", "plain_because"}
    for file in YAML:
        yield from ((where, text) for key, where, text in texts(node(file)) if key in keys)


# ---- cites and marks ------------------------------------------------------------------------------------------------


def test_there_are_rows_of_every_kind() -> None:
    marks = Counter(row.checked.mark for row in ROWS)
    assert len(ROWS) > 300
    assert set(marks) == {"seen", "memory", "derived", "assumed"}


def test_every_row_that_is_no_definition_is_cited() -> None:
    bare = [row.name for row in ROWS if row.needs_cite and (row.cite is None or not row.cite.section.strip())]
    assert bare == []


def test_a_calculation_without_a_cite_says_what_it_is_derived_from() -> None:
    uncited = [row for row in ROWS if row.cite is None and row.name in book().calculations]
    assert uncited
    assert [row.name for row in uncited if not row.checked.source.strip()] == []


def test_every_mark_says_what_it_rests_on() -> None:
    assert [
        row.name for row in ROWS if len(row.checked.source.split()) < 2 and row.checked.source != "definition"
    ] == []


def test_what_was_seen_can_be_found_again() -> None:
    """A title beside the address or name: somebody who looks has to know what to look for."""
    lost = [(row.name, row.checked.source) for row in ROWS if row.checked.mark == "seen" and not findable(row.checked)]
    assert lost == []


def findable(checked: Checked) -> bool:
    if INVENTED.search(checked.source):
        return True
    title = ADDRESS.sub("", checked.source).strip(" ,;()")
    return bool(ADDRESS.search(checked.source) or PUBLIC_DOCUMENT.search(checked.source)) and len(title.split()) >= 2


@pytest.mark.parametrize(
    ("source", "enough"),
    [
        ("https://example.org/page", False),
        ("EC&M, an article", False),
        ("EC&M, an article, https://ecmweb.com/code-basics/an-article", True),
        ("WAC 51-11C-40510, Controlled receptacles", True),
        ("the invented ordinance itself, written for this rulebook", True),
    ],
)
def test_what_counts_as_found_again(source: str, enough: bool) -> None:
    assert findable(Checked("seen", source)) == enough


def test_nothing_from_memory_or_carried_says_that_it_was_seen() -> None:
    claims = [
        row.name
        for row in ROWS
        if row.checked.mark in ("memory", "assumed") and re.match(r"(seen|read) in\b", row.checked.source)
    ]
    assert claims == []


def test_readings_are_cited_and_published_ones_say_where() -> None:
    for reading in book().readings.values():
        assert reading.cite.section.strip() and reading.plain_because.strip(), reading.id
        for alternative in reading.alternatives.values():
            name = f"{reading.id}: {alternative.id}"
            assert alternative.holders.strip() and alternative.source.strip(), name
            none_found = "no published source found" in alternative.source
            assert not (alternative.standing == "published" and none_found), name


def rows_of(edition: str) -> Mapping[str, tuple[str, str]]:
    """Section and mark of every rule and number of an edition of the electrical code, as it is resolved."""
    law = rulebook().edition("nfpa-70", edition).in_force["electrical"].candidates[0].law
    assert law is not None
    tables = law.resolved.tables.values()
    found = {rule.id: (rule.cite.section, rule.checked.mark) for table in tables for rule in table.rules}
    numbers = law.resolved.values
    return found | {f"value.{name}": (row.cite.section, row.checked.mark) for name, row in numbers.items()}


def test_what_the_2026_edition_reorders_is_assumed() -> None:
    """Nobody read what became of Articles 404, 406, 220 and 750: a row cited to them in 2023 is not sure in 2026."""
    now = rows_of("2026")
    moved = {name: now[name][1] for name, (section, _) in rows_of("2023").items() if REORDERED.match(section)}
    assert len(moved) > 30
    assert {name for name, mark in moved.items() if mark != "assumed"} == READ_IN_2026


def test_what_was_read_of_it_is_seen_under_its_new_number() -> None:
    now = rows_of("2026")
    assert {now[name][1] for name in READ_IN_2026} == {"seen"}
    assert [now[name][0] for name in READ_IN_2026 if not now[name][0].startswith("406.26")] == []


# ---- sources name nobody, and no page of notes ----------------------------------------------------------------------


def test_no_source_names_a_person_or_a_firm() -> None:
    assert [(at, text) for at, text in sources() if SOMEBODY.search(ADDRESS.sub("", text))] == []


def test_every_address_is_of_a_known_host() -> None:
    hosts = {host.removeprefix("www.") for _, text in sources() for host in re.findall(r"https?://([^/\s]+)", text)}
    assert hosts - HOSTS == set()
    assert HOSTS - hosts == set(), "a host that no source uses any more"


@pytest.mark.parametrize("text", ["as Mr. Smith says", "Anybody Controls Inc., a leaflet", "told us at the counter"])
def test_a_person_or_a_firm_would_be_found(text: str) -> None:
    assert SOMEBODY.search(text)


@pytest.mark.parametrize("file", [*YAML, *PINS])
def test_no_tag_of_anybodys_notes(file: str) -> None:
    if file.endswith(".json"):
        found = re.findall(r"\[[A-Z]\d{1,3}\]", (FOLDER / file).read_text(encoding="utf-8"))
    else:
        found = [f"{at}: {text}" for key, at, text in texts(node(file)) if key in PROSE and NOTE_TAG.search(text)]
    assert found == []


PROSE = {
    *("says", "asks", "look", "because", "plain_because", "seen", "memory", "assumed", "derived", "source", "holders"),
    *("how_checked", "section", "title", "not_entered", "none_in_force"),
}


@pytest.mark.parametrize("text", ["from [S7]", "see W22", "the figure of [M]", "T3 and S12"])
def test_a_tag_would_be_found(text: str) -> None:
    assert NOTE_TAG.search(text)


# ---- every table is asked, every question answered, every sentence our own -------------------------------------------


def tables() -> set[tuple[str, str]]:
    """(document, question) of every table."""
    return {(document, table.question) for (document, _), each in book().editions.items() for table in each.tables}


def cased() -> set[tuple[str, str]]:
    """(document, question) of every worked case; of a place's case, what governs there."""
    found = set()
    for file in YAML:
        if file.startswith("cases/"):
            for case in plain_data(node(file)).get("cases", ()):
                found |= {(document, case["question"]) for document in documents_of(case)}
    return found


def documents_of(case: Mapping[str, Any]) -> set[str]:
    if "edition" in case:
        return {case["document"]}
    code = code_of_place(case["place"], tuple(sorted(case.get("dates", {}).items())))
    laws = [candidate.law for line in code.in_force.values() for candidate in line.candidates]
    return {law.resolved.document.id for law in laws if law is not None and law.answers(case["question"])}


@cache
def code_of_place(place: str, dates: tuple[tuple[str, str], ...]) -> Code:
    return Rulebook(book()).in_force(place, dates=dict(dates))


def test_every_table_has_a_worked_case() -> None:
    assert tables() - cased() == set()


def test_every_question_is_answered_by_some_table() -> None:
    assert set(book().questions) - {question for _, question in tables()} == set()


def test_every_shipped_file_begins_with_the_line_for_editors() -> None:
    demo = sorted((Path(yokebook_adapters.__file__).parent / "demo").glob("*.yaml"))
    assert demo
    for path in [*(FOLDER / file for file in YAML), *demo]:
        first = path.read_text(encoding="utf-8").partition("\n")[0]
        line = re.fullmatch(r"# yaml-language-server: \$schema=(\S+[.]schema[.]json)", first)
        assert line and (path.parent / line[1]).is_file(), path


@pytest.mark.parametrize("file", YAML)
def test_no_sentence_is_as_long_as_a_code_books(file: str) -> None:
    long = [
        f"{at}: {sentence}"
        for key, at, text in texts(node(file))
        if key in ("says", "because", "plain_because")
        for sentence in re.split(r"(?<=[.;:?!])\s+", text)
        if len(sentence.split()) > LONGEST_SENTENCE
    ]
    assert long == []
