"""What must hold of any table over plain elements, and of any two: each function raises AssertionError where the engine
and the naive evaluator differ."""

from __future__ import annotations

import random
from collections.abc import Iterable, Sequence
from itertools import combinations, product

from proof.tables import (
    Definition,
    PlainTable,
    Point,
    as_region,
    as_rows,
    as_space,
    points_in,
    random_box,
    shuffled,
)
from yokebook.proof.conflicts import clashes
from yokebook.proof.cover import Cover, Region
from yokebook.proof.deciding_rows import IMPOSSIBLE, Rows, Says
from yokebook.proof.differences import Joint, differences, widest
from yokebook.proof.elements import Space, is_point

Kind = tuple[Says, Says]


def once_each(regions: Iterable[Region]) -> set[Point]:
    """The points of regions that must not overlap."""
    found: set[Point] = set()
    for region in regions:
        for point in points_in(region):
            assert point not in found, f"{point} is in two parts"
            found.add(point)
    return found


# ---- one table -------------------------------------------------------------------------------------------------------


def leaves_are_the_definition(table: PlainTable) -> None:
    """At every point of each leaf the same rules stand and the same is said; leaves are disjoint and cover all."""
    naive, rows = Definition(table), as_rows(table)
    leaves = list(rows.leaves())
    assert once_each(leaf.region for leaf in leaves) == set(table.points())
    for leaf in leaves:
        for point in points_in(leaf.region):
            assert leaf.says == naive.says(point), point
            assert {rows.rules[n].id for n in leaf.standing} == naive.standing(point), point


def points_are_the_definition(table: PlainTable) -> None:
    """The same of the way in by single points."""
    naive, rows = Definition(table), as_rows(table)
    for point in table.points():
        assert rows.at(point) == naive.says(point), point


def parts_are_the_definition(table: PlainTable, rng: random.Random) -> None:
    """What is said in a region is what is said at its points, and a smaller region says nothing more."""
    naive, rows = Definition(table), as_rows(table)
    region = as_region(random_box(rng, table.widths))
    due = {naive.says(point) for point in points_in(region)}
    assert {leaf.says for leaf in rows.leaves(region)} == due
    for says in (IMPOSSIBLE, *(("ruled", rule.then) for rule in table.rules)):
        found = rows.find(region, lambda said, says=says: said == says)
        assert (found is not None) == (says in due)
        if found is not None:
            assert {naive.says(point) for point in points_in(found.region)} == {says}
    smaller = tuple(a & b for a, b in zip(region, as_region(random_box(rng, table.widths)), strict=True))
    assert {leaf.says for leaf in rows.leaves(smaller)} <= due


def gap_is_silent(table: PlainTable) -> None:
    """Where a gap is told no rule fires and things can occur; where none is told there is no such point."""
    naive, rows = Definition(table), as_rows(table)
    silent = {point for point in table.points() if naive.can_occur(point) and not naive.fired(point)}
    hole = rows.cover.uncovered(rows.cover.whole)
    if hole is None:
        assert silent == set()
    else:
        found = set(points_in(hole))
        assert found and found <= silent


def cover_is_exact(table: PlainTable, rng: random.Random) -> None:
    """Of any region and any of the boxes: a hole is in the region and in none of them, no hole means that there is
    none; and the boxes that overlap a region are those with a point in common with it."""
    boxes = as_rows(table).cover.boxes
    cover = Cover(table.widths, boxes)
    region = as_region(random_box(rng, table.widths))
    among = rng.getrandbits(len(boxes) + 1) & cover.all if rng.random() < 0.7 else cover.all
    inside = [set(points_in(box)) for box in boxes]
    here = set(points_in(region))
    overlap = {n for n in range(len(boxes)) if inside[n] & here}
    assert {n for n in range(len(boxes)) if cover.overlapping(region) >> n & 1} == overlap
    left = here.difference(*(inside[n] for n in range(len(boxes)) if among >> n & 1))
    hole = cover.uncovered(region, among)
    if hole is None:
        assert left == set()
    else:
        found = set(points_in(hole))
        assert found and found <= left


def conflicts_are_all(table: PlainTable) -> None:
    """Two rules are told to clash just where brute force finds them standing together with different words, and at
    every point of the region told they do."""
    naive, rows = Definition(table), as_rows(table)
    then = {rule.id: rule.then for rule in table.rules}
    due: dict[frozenset[str], set[Point]] = {}
    for point in table.points():
        for one, other in combinations(sorted(naive.standing(point)), 2):
            if then[one] != then[other]:
                due.setdefault(frozenset((one, other)), set()).add(point)
    told = clashes(rows)
    pairs = [frozenset((rows.rules[clash.one].id, rows.rules[clash.other].id)) for clash in told]
    assert len(set(pairs)) == len(pairs) and set(pairs) == set(due)
    for clash, pair in zip(told, pairs, strict=True):
        assert clash.region is not None and clash.one < clash.other
        found = set(points_in(clash.region))
        assert found and found <= due[pair]


def dead_rules(rows: Rows) -> set[str]:
    """The rules that stand nowhere: wherever one fires a rule over it does, or nothing can occur."""
    return {
        rule.id
        for number, rule in enumerate(rows.rules)
        if all(rows.cover.uncovered(r, rows.boxes_over(rule.beaten_by)) is None for r in rows.firing[number])
    }


def dead_rules_never_stand(table: PlainTable) -> None:
    """A rule is dead just where brute force never finds it standing."""
    naive = Definition(table)
    standing = set[str]().union(*(naive.standing(point) for point in table.points()))
    assert dead_rules(as_rows(table)) == {rule.id for rule in table.rules} - standing


def findings(rows: Rows) -> tuple[bool, set[frozenset[str]], set[str]]:
    """Whether there is a gap, which rules clash, and which are dead."""
    pairs = {frozenset((rows.rules[clash.one].id, rows.rules[clash.other].id)) for clash in clashes(rows)}
    return rows.cover.uncovered(rows.cover.whole) is not None, pairs, dead_rules(rows)


def order_is_nothing(table: PlainTable, rng: random.Random) -> None:
    """Written in another order a table says the same everywhere, and the same is found in it."""
    other = shuffled(rng, table)
    assert differences(as_space([table, other], [False] * len(table.widths))) == []
    say_the_same(as_rows(table), as_rows(other))


def say_the_same(one: Rows, other: Rows) -> None:
    """Two tables say the same everywhere, no part passed over because the same rules are in both; and have the same
    findings."""
    assert all(pair.was == pair.now for pair in Joint(one, other).pairs(all_of_them=True))
    assert findings(one) == findings(other)


# ---- two tables ------------------------------------------------------------------------------------------------------


def kinds(was: PlainTable, now: PlainTable) -> dict[Kind, set[Point]]:
    """By brute force, every (old, new) that differ and the points at which they are said."""
    old, new = Definition(was), Definition(now)
    found: dict[Kind, set[Point]] = {}
    for point in was.points():
        kind = (old.says(point), new.says(point))
        if kind[0] != kind[1]:
            found.setdefault(kind, set()).add(point)
    return found


def nothing_against_itself(table: PlainTable) -> None:
    """A table does not differ from itself."""
    assert differences(as_space([table, table], [False] * len(table.widths))) == []


def leaves_of_two_are_all(was: PlainTable, now: PlainTable) -> None:
    """The parts in which two tables differ: disjoint, each with what is said all over it, no point left out."""
    due = kinds(was, now)
    pairs = list(Joint(as_rows(was), as_rows(now)).pairs())
    found = once_each(pair.region for pair in pairs)
    assert found == set[Point]().union(*due.values())
    for pair in pairs:
        assert set(points_in(pair.region)) <= due[pair.was, pair.now]
    everything = Joint(as_rows(was), as_rows(now)).pairs(all_of_them=True)
    assert once_each(pair.region for pair in everything) == set(was.points())


def differences_are_all(was: PlainTable, now: PlainTable, scales: Sequence[bool]) -> None:
    """Every kind of difference is told, with regions at every point of which that can occur it is so; unless more are
    counted no point of that kind is outside them."""
    due = kinds(was, now)
    cannot = {point for point in was.points() if Definition(was).says(point) == IMPOSSIBLE}
    told = differences(as_space([was, now], scales))
    assert [(each.was, each.now) for each in told] == sorted(due)
    for each in told:
        so = due[each.was, each.now]
        for region in each.regions:
            points = set(points_in(region))
            assert points & so and points <= so | cannot
        covered = set[Point]().union(*(points_in(region) for region in each.regions))
        assert (so <= covered) == (each.more == 0)


def differences_mirror(was: PlainTable, now: PlainTable, scales: Sequence[bool]) -> None:
    """Old and new the other way round: the same kinds turned round, told of the same points."""
    there = {(d.was, d.now): d for d in differences(as_space([was, now], scales))}
    back = {(d.now, d.was): d for d in differences(as_space([now, was], scales))}
    assert there.keys() == back.keys()
    for kind, one in there.items():
        assert one.boundary_only == back[kind].boundary_only
    turned = {(new, old): points for (old, new), points in kinds(was, now).items()}
    assert turned == kinds(now, was)
    for a, b in ((was, now), (now, was)):
        found: dict[Kind, set[Point]] = {}
        for pair in Joint(as_rows(a), as_rows(b)).pairs():
            found.setdefault((pair.was, pair.now), set()).update(points_in(pair.region))
        assert found == kinds(a, b)


def boundary_only_is_without_breadth(was: PlainTable, now: PlainTable, scales: Sequence[bool]) -> None:
    """A difference has breadth if at some point of it no input is held to a single number of a scale."""
    space = as_space([was, now], scales)
    due = kinds(was, now)
    for each in differences(space):
        broad = any(
            not any(is_point(space.elements[i][e]) for i, e in enumerate(point)) for point in due[each.was, each.now]
        )
        assert each.boundary_only == (not broad)


def widest_is_widest(was: PlainTable, now: PlainTable, scales: Sequence[bool]) -> None:
    """A region made wide holds what it was made from and nothing that is not so, and no element can be added to it with
    which something can occur and all is so."""
    space = as_space([was, now], scales)
    due = kinds(was, now)
    cannot = {point for point in was.points() if Definition(was).says(point) == IMPOSSIBLE}
    joint = Joint(as_rows(was), as_rows(now))
    for pair in list(joint.pairs()):
        so = due[pair.was, pair.now]
        wide = widest(pair.region, space, lambda part, p=pair: joint.everywhere(part, p.was, p.now))
        points = set(points_in(wide))
        assert set(points_in(pair.region)) <= points <= so | cannot
        for added in _one_more(wide, space):
            strip = set(points_in(added))
            assert strip <= cannot or not strip <= so | cannot, (wide, added)


def _one_more(region: Region, space: Space) -> list[Region]:
    """The strips that one more element of one input would add."""
    return [
        (*region[:i], 1 << e, *region[i + 1 :])
        for i, e in product(range(len(region)), range(max(space.widths)))
        if e < space.widths[i] and not region[i] >> e & 1
    ]
