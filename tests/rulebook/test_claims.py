"""Every region of rulebook/cases/: the table says what is due everywhere in it, in every law that it names.

`python tests/rulebook/test_claims.py FILE …` holds the regions of single files against the rulebook.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path

import pytest

from shipped_book import book
from yokebook import shipped
from yokebook.load import schema_check
from yokebook.load.faults import Fault, sort_key
from yokebook.load.files import read_file
from yokebook.load.nodes import Node
from yokebook.load.regions import load_claims, read_claims
from yokebook.model.claimed import Claim
from yokebook.proof.claim_text import region_text
from yokebook.proof.claims import Broken, Laws, broken_claims

FOLDER = shipped.folder("rulebook") / "cases"
FILES = sorted(path.relative_to(FOLDER).as_posix() for path in FOLDER.rglob("*.yaml"))


@cache
def laws() -> Laws:
    return Laws(book())


def read(paths: Sequence[Path], faults: list[Fault]) -> list[Claim]:
    """The regions of files of cases, held against their schema; what is wrong is added to `faults`."""
    nodes: list[Node] = []
    for path in paths:
        node = read_file(path, str(path), faults)
        if node is not None:
            nodes.append(node)
            faults.extend(schema_check.check(node, "cases"))
    return read_claims(nodes, book(), faults)


def broken(claims: Sequence[Claim]) -> Iterator[str]:
    """What is wrong with regions, one text each: where in one the table says something else than is due."""
    for question in dict.fromkeys(claim.question for claim in claims):
        asked = [claim for claim in claims if claim.question == question]
        named = {each.name: each for claim in asked for each in laws().of(claim)}
        for name, each in named.items():
            here = [claim for claim in asked if name in [law.name for law in laws().of(claim)]]
            yield from (told(one) for one in broken_claims(each, question, here, book()))


def told(one: Broken) -> str:
    claim = one.claim
    where = f"{claim.at}: the region `{claim.id}` in {one.law}"
    status, word = one.says
    if status == "empty":
        return f"{where}: nothing can occur in it"
    said = f"`{word}`" if status == "ruled" else {"conflict": "is in conflict", "silent": "is silent"}[status]
    verb = "says " if status == "ruled" else ""
    return f"{where}: expected `{claim.expect}`, but the table {verb}{said}\n{region_text(one.space, one.region)}"


@pytest.mark.parametrize("file", FILES)
def test_every_region_has_the_outcome_that_is_due(file: str) -> None:
    faults: list[Fault] = []
    claims = read([FOLDER / file], faults)
    assert [str(fault) for fault in faults] == []
    found = list(broken(claims))
    assert not found, "\n".join(found)


def test_all_regions_load_together() -> None:
    """Ids are unique over all files, and every name in them leads somewhere."""
    ids = [claim.id for claim in load_claims(None, book())]
    assert len(ids) == len(set(ids))


def main(paths: Sequence[str]) -> int:
    """Prints what is wrong with the regions of these files, or how many hold."""
    faults: list[Fault] = []
    claims = read([Path(path) for path in paths], faults)
    found = [str(fault) for fault in sorted(faults, key=sort_key)] or list(broken(claims))
    print("\n".join(found) or f"{len(claims)} regions hold")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
