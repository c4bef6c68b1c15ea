"""Less is said of a project: what is still settled is what the whole record says, and nothing that may be is denied."""

from __future__ import annotations

import random
from collections.abc import Iterable
from copy import deepcopy

import pytest

from scenarios.reducing import Reduction, reductions
from scenarios.staging import Key, project_data, ruled, whole
from yokebook.ruling import Ruling

#: How many pieces of each scenario are taken away in every run; the long run takes all of some. The open-plan floor is
#: left to the tests of lists: its 54 devices say nothing here that the others do not.
PIECES = {"sc01": 24, "sc02": 24, "sc03": 16, "sc04": 4, "sc05": 4, "sc06": 12, "sc08": 1, "sc09": 8, "sc10": 5}


def faults(full: dict[Key, Ruling], less: dict[Key, Ruling]) -> list[str]:
    """Where the smaller record says what the whole one contradicts."""
    return [f"{key}: {why}" for key, ruling in less.items() if (why := _wrong(full[key], ruling))]


def _wrong(full: Ruling, less: Ruling) -> str:
    if less.status == "not decided":
        return ""
    if less.status in ("conflict", "silent", "impossible"):
        return f"{less.status}, and the whole record is {full.status}"
    if less.status == "settled":
        if (full.status, full.outcome) != ("settled", less.outcome):
            return f"settled as {less.outcome}, and the whole record is {full.status} {full.outcome}"
        if lost := _held(full) - _held(less):
            return f"no longer says what else is held: {lost}"
        return ""
    if not set(full.possible) <= set(less.possible):
        return f"possible are {less.possible}, and the whole record has {full.possible}"
    if less.status == "readings differ" and full.status != "readings differ":
        return f"readings differ, and the whole record is {full.status}"
    return ""


def _held(ruling: Ruling) -> set[tuple[str, str, str]]:
    return {(h["reading"], h["alternative"], word) for h in ruling.also_held for word in h["outcomes"]}


def check(name: str, taken: Iterable[Reduction]) -> None:
    """Takes the pieces away together and compares."""
    data = deepcopy(project_data(name))
    taken = list(taken)
    for reduction in taken:
        reduction.take(data)
    found = faults(whole(name), ruled(data))
    assert not found, "\n".join([f"{name}: " + "; ".join(r.says for r in taken), *found[:5]])


def sample(name: str, count: int) -> list[Reduction]:
    """Some pieces, the same ones in every run."""
    pieces = reductions(project_data(name))
    return random.Random(name).sample(pieces, min(count, len(pieces)))


@pytest.mark.parametrize("name", PIECES)
def test_some_pieces_alone(name: str) -> None:
    for reduction in sample(name, PIECES[name]):
        check(name, [reduction])


@pytest.mark.parametrize(("name", "piece"), [("sc09", "yokes room/tv without configuration")])
def test_pieces_that_were_once_wrong(name: str, piece: str) -> None:
    """What a sheet works out for one ruling is not taken for more than it is in the next."""
    (reduction,) = (reduction for reduction in reductions(project_data(name)) if reduction.says == piece)
    check(name, [reduction])


@pytest.mark.parametrize("name", ["sc01", "sc02", "sc03", "sc06"])
def test_several_pieces_together(name: str) -> None:
    draw = random.Random(f"several of {name}")
    pieces = reductions(project_data(name))
    for _ in range(4):
        check(name, draw.sample(pieces, draw.randint(2, 6)))


@pytest.mark.parametrize("name", ["sc01", "sc02", "sc03"])
def test_no_date(name: str) -> None:
    """Without the date every entry of the place is possible, the one that governs among them.

    A question that is asked only because of an entry of another day cannot be settled.
    """
    less = ruled(project_data(name), dated=False)
    elsewhere = {key for key in less if key not in whole(name)}
    assert [key for key in elsewhere if less[key].status == "settled"] == []
    found = faults(whole(name), {key: ruling for key, ruling in less.items() if key not in elsewhere})
    assert not found, "\n".join(found[:5])


@pytest.mark.parametrize("name", ["sc01", pytest.param("sc06", marks=pytest.mark.slow)])
def test_only_what_stands_in_what(name: str) -> None:
    """With every fact and reference gone nothing is settled that the whole record contradicts."""
    check(name, [reduction for reduction in reductions(project_data(name)) if reduction.kind == "fact"])


@pytest.mark.slow
@pytest.mark.parametrize("name", ["sc01", "sc02", "sc03", "sc06", "sc09"])
def test_every_piece_alone(name: str) -> None:
    for reduction in reductions(project_data(name)):
        check(name, [reduction])
