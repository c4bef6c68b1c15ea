"""How time and memory grow: with the rules of a table, with tables that take each other's answers, with layers over a
document, with facts that are missing, with records and with the devices of a project."""

from __future__ import annotations

import gc
import multiprocessing
import random
import resource
import statistics
import time
import tracemalloc
from collections.abc import Callable, Sequence
from dataclasses import replace
from importlib.resources import files

import yokebook
import yokebook_adapters
from bench.buildings import building
from bench.measuring import Part, Record, Say, Way, side_by_side, timed
from bench.tables import WORDS, Invented, by_hand, chain, one_table
from resolve.making import amendment, layer, op
from ruling import small
from yokebook import front_door
from yokebook.code import Code
from yokebook.decision import Decision
from yokebook.graph import Graph
from yokebook.law import Candidate, InForce, Law
from yokebook.layers import apply_layer
from yokebook.load.faults import RulebookFaults
from yokebook.model import Box, OneOf, Resolved
from yokebook.sheet import Sheet

Decide = Callable[[Record], Decision]


def afresh(invented: Invented) -> Code:
    """Its law with nothing kept yet."""
    return Code(invented.code.book, invented.code.in_force, None, {}, None, {})


def _law(invented: Invented) -> Law:
    law = invented.code.in_force["small"].candidates[0].law
    assert law is not None
    return law


def _ready(invented: Invented) -> tuple[Decide, float]:
    """What decides, and the milliseconds until it was made ready."""
    code = afresh(invented)
    start = time.process_time()
    decide = code.decider(invented.question)
    return decide, (time.process_time() - start) * 1e3


def _warm(decide: Decide, invented: Invented, missing: int, count: int) -> None:
    rng = random.Random(11)
    for _ in range(count):
        decide(invented.record(rng, missing))


def _later(decide: Decide, invented: Invented, missing: int, rounds: int, count: int) -> float:
    """Microseconds a record with so many facts missing, once four times as many were seen."""
    _warm(decide, invented, missing, 4 * count)
    way: dict[str, Way] = {"": (decide, dict, count)}
    return side_by_side(way, lambda rng: invented.record(rng, missing), rounds)[""]


def _kept(invented: Invented, count: int) -> float:
    """Kibibytes that stay after so many full records."""
    code = afresh(invented)
    gc.collect()
    tracemalloc.start()
    _warm(code.decider(invented.question), invented, 0, count)
    kept, _ = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return kept / 1024


def _beside_by_hand(decide: Decide, invented: Invented, rounds: int, count: int) -> tuple[float, float]:
    """Microseconds a full record, and how many times the hand-written chain that is."""
    _warm(decide, invented, 0, 2 * count)
    ways: dict[str, Way] = {"hand": (by_hand(invented), dict, count), "yokebook": (decide, dict, count)}
    found = side_by_side(ways, invented.record, rounds)
    return found["yokebook"], found["yokebook"] / found["hand"]


def rules_part(rules: Sequence[int], rounds: int, count: int, say: Say) -> Part:
    """With the rules of one table."""
    head = ("rules", "made ready, ms", "a full record, µs", "times by hand", "kept, KiB", "one fact missing, µs")
    part = Part("growth with the rules of a table", head=head)
    for number in rules:
        say(f"{number} rules")
        invented = one_table(number, 3, 3, 3, 1)
        decide, made = _ready(invented)
        took, ratio = _beside_by_hand(decide, invented, rounds, count)
        missing = _later(decide, invented, 1, rounds, count)
        row = (made, took, ratio, _kept(invented, 2 * count), missing)
        part.rows.append((str(number), *(f"{figure:,.2f}" for figure in row)))
    return part


def tables_part(tables: Sequence[int], rounds: int, count: int, say: Say) -> Part:
    """With tables that take each other's answers."""
    head = ("tables", "made ready, ms", "a full record, µs", "times by hand", "one fact missing, µs", "two, µs")
    part = Part("growth with tables in a chain", head=head)
    for number in tables:
        say(f"a chain of {number}")
        invented = chain(number)
        decide, made = _ready(invented)
        took, ratio = _beside_by_hand(decide, invented, rounds, count)
        missing = [_later(decide, invented, n, rounds, count // 2) for n in (1, 2)]
        part.rows.append((str(number), *(f"{figure:,.2f}" for figure in (made, took, ratio, *missing))))
    return part


def layers_part(layers: int, rounds: int, count: int, say: Say) -> Part:
    """With layers over a document, each with a rule in place of another and one more."""
    head = ("layers", "rules", "resolved, ms", "made ready, ms", "a full record, µs", "times by hand")
    part = Part("growth with layers over a document", head=head)
    invented = one_table(50, 3, 3, 3, 1)
    rng = random.Random(5)
    resolved, took = _law(invented).resolved, 0.0
    for number in range(layers + 1):
        say(f"{number} layers")
        if number:
            start = time.process_time()
            resolved = _layered(rng, invented, resolved, f"over{number}")
            took = (time.process_time() - start) * 1e3
        law = Law(resolved, _law(invented).book)
        line = InForce("small", (Candidate("entry", "in force", law, ""),))
        here = replace(invented, code=Code(law.book, {"small": line}, None, {}, None, {}))
        decide, made = _ready(here)
        found, ratio = _beside_by_hand(decide, here, rounds, count)
        rules = len(resolved.tables[invented.question].rules)
        part.rows.append((str(number), str(rules), *(f"{figure:,.2f}" for figure in (took, made, found, ratio))))
    return part


def _layered(rng: random.Random, invented: Invented, below: Resolved, name: str) -> Resolved:
    """The document with one layer more."""
    rules = below.tables[invented.question].rules
    while True:
        one, other = rng.sample([rule for rule in rules if rule.where], 2)
        cell = OneOf(frozenset({rng.choice("ab")}))
        choices = sorted(fact.id for fact in invented.facts.values() if fact.type == "choice")
        box: Box = {**one.where[0], rng.choice(choices): cell}
        added = small.rule(f"{invented.question}#{name}", [box], rng.choice(WORDS), (), (one.id,))
        ops = (op("add", added.id, rule=added), op("replace", other.id, rule=replace(other, then=rng.choice(WORDS))))
        try:
            return apply_layer(_law(invented).book, below, layer(name, amendment("A-1", *ops)), drafts=True)
        except RulebookFaults:  # rules that come to prevail over each other in a circle
            continue


def records_part(counts: Sequence[int], say: Say) -> Part:
    """What stays in memory with the records that were decided, up to two facts missing."""
    part = Part("memory with records decided", head=("records", "kept, KiB"))
    invented = one_table(12, 3, 2, 2, 1)
    rng = random.Random(1)
    for count in counts:
        say(f"memory of {count} records")
        code = afresh(invented)
        gc.collect()
        tracemalloc.start()
        decide = code.decider(invented.question)
        for _ in range(count):
            decide(invented.record(rng, rng.choice((0, 0, 1, 2))))
        kept, _ = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        part.rows.append((f"{count:,}", f"{kept / 1024:,.0f}"))
    return part


# ---- projects -------------------------------------------------------------------------------------------------------


def projects_part(devices: Sequence[int], say: Say) -> Part:
    """Whole projects, every question without a topic for every thing, no two rooms alike; each in a process of its own,
    whose memory is what the system gave it at most."""
    head = ("devices", "decisions", "read, s", "decided, s", "without collector, s", "once more, s", "µs a decision")
    head += ("MiB before", "MiB at most", "MiB at most, without collector")
    part = Part("whole projects, every question without a topic", head=head)
    spawn = multiprocessing.get_context("spawn")
    for count in devices:
        found = []
        for collects in (True, False):
            say(f"a project of {count} devices{'' if collects else ', without the collector of circles'}")
            with spawn.Pool(1) as pool:
                found.append(pool.apply(project_figures, (count, collects)))
        here, without = found
        times = (here["read"], here["decided"], without["decided"], here["again"])
        each = here["decided"] / here["decisions"] * 1e6
        memory = (here["before"], here["most"], without["most"])
        row = (f"{here['devices']:,.0f}", f"{here['decisions']:,.0f}", *(f"{figure:.2f}" for figure in times))
        part.rows.append((*row, f"{each:.1f}", *(f"{figure:,.0f}" for figure in memory)))
    return part


def demo_part(rounds: int, say: Say) -> Part:
    """The whole shipped rulebook, every topic, on the demo's learning house: read, decided and fully ruled on under law
    that was just put in force, medians."""
    say("the demo building, every topic")
    book = yokebook.load()
    text = (files(yokebook_adapters) / "demo" / "tamarisk-learning-house.yaml").read_text(encoding="utf-8")
    read: list[float] = []
    taken: dict[str, list[float]] = {"decided, law new": [], "decided again": []}

    def law_of(graph: Graph) -> Code:
        assert graph.place is not None
        return book.in_force(graph.place, graph.dates, choices=graph.choices)

    for _ in range(rounds):
        read.append(timed(lambda: front_door.read_project(text, book.book)))
        graph = front_door.read_project(text, book.book)
        code = law_of(graph)
        for each in taken.values():
            each.append(timed(lambda code=code, graph=graph: code.decide_project(graph, topics=["all"])))  # type: ignore[misc]
    graph = front_door.read_project(text, book.book)
    decided = law_of(graph).decide_project(graph, topics=["all"])
    sheets: list[Sheet] = []
    taken["with every reason"] = [timed(lambda: sheets.append(law_of(graph).rule_project(graph, topics=["all"])))]
    said = [(ruling.question, ruling.word) for ruling in sheets[0].rulings]
    assert [(each.question, each.decision.word) for each in decided] == said
    decisions = len(decided)
    part = Part("the demo building, the whole shipped rulebook", head=("", "s", "µs a decision"))
    part.rows.append(("read from YAML", f"{statistics.median(read):.2f}", ""))
    for name, each in taken.items():
        took = statistics.median(each)
        part.rows.append((f"{decisions:,} {name}", f"{took:.2f}", f"{took / decisions * 1e6:.0f}"))
    return part


def project_figures(count: int, collects: bool) -> dict[str, float]:
    """Seconds and mebibytes of one project, in this process. Without `collects` no circles are looked for meanwhile."""
    book = yokebook.load()
    data = building(count)
    start = time.process_time()
    graph = front_door.project_to_graph(data, book.book)
    read = time.process_time() - start
    assert graph.place is not None
    code = book.in_force(graph.place, graph.dates, choices=graph.choices)
    before = _most_memory()
    if not collects:
        gc.disable()
    start = time.process_time()
    decided = code.decide_project(graph)
    took = time.process_time() - start
    most = _most_memory()
    again = timed(lambda: code.decide_project(graph))
    number = len(graph.things["yoke"])
    return {
        "devices": number, "decisions": len(decided), "read": read, "decided": took, "again": again,
        "before": before, "most": most,
    }  # fmt: skip


def _most_memory() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
