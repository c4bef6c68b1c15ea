"""A random rulebook under a place's amendments."""

from __future__ import annotations

import random
from dataclasses import replace

from proof.worlds import Maker, World, acyclic
from ruling import small
from yokebook.law import Law
from yokebook.model import Adopts, Layer, Place, Step, Table
from yokebook.proof.laws import Standing


def standing_of(world: World, below: Law | None = None) -> Standing:
    """The law as checks see it: a bare edition, or over `below` a place's own amendments."""
    if below is None:
        return Standing("small 1", world.law, world.in_force, frozenset({"small 1"}))
    place = Place("town", "Town", None, "", True, {}, {"own": Layer("own", (), small.AT)}, small.AT)
    adopts = Adopts("small", "1", ("#own",), "all entered")
    return Standing("town E1", world.law, world.in_force, frozenset({"X-1"}), below, place, None, adopts)


def amended(rng: random.Random, world: World, *, lower: bool) -> Law:
    """The law with a rule of the table at hand (with `lower`, of the lower one too) put otherwise, or one more."""
    maker = Maker(rng)
    maker.facts, maker.figures = dict(world.book.facts), dict(world.book.calculations)
    while True:
        tables = dict(world.law.resolved.tables)
        for question in ("upper", "lower") if lower else ("upper",):
            tables[question] = _amended(rng, maker, tables[question])
        if all(acyclic(table) for table in tables.values()):
            return Law(replace(world.law.resolved, tables=tables), world.book)


def _amended(rng: random.Random, maker: Maker, table: Table) -> Table:
    rules = list(table.rules)
    at = rng.randrange(len(rules))
    names = sorted({name for rule in rules for box in rule.where for name in box})
    chain = (Step("X-1", "replace", None, "", small.AT),)
    kind = rng.randrange(3)
    if kind == 0:
        new = small.rule(f"{table.question}#new", [maker.box(names, 2)], rng.choice(small.OUTCOMES), (), "all")
        rules.append(replace(new, chain=chain))
    elif kind == 1:
        rules[at] = replace(rules[at], then=rng.choice(small.OUTCOMES), chain=chain)
    else:
        rules[at] = replace(rules[at], where=(maker.box(names, 2),), chain=chain)
    return replace(table, rules=tuple(rules))
