"""Other ways to decide the invented tables: read as they are, in batches with numpy, and by general-purpose engines.

Each gives for a full record what its own form can say: the id of the first rule that holds, exceptions first, or the
outcome. Engines are installed only to measure; one that is not there is left out.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from importlib import import_module
from importlib.metadata import PackageNotFoundError, version
from typing import Any

from bench.tables import Invented
from yokebook.law import ReadyTable
from yokebook.model import Box, Cell, NoneOf, OneOf, Within

Record = Mapping[str, Any]


@dataclass(frozen=True)
class Other:
    """One other way: its name with a version, how it takes a record, and what it makes of it. `rule` says whether that
    is the deciding rule's id, else it is the outcome."""

    name: str
    prepare: Callable[[Record], Any]
    decide: Callable[[Any], str]
    rule: bool


def ready_of(invented: Invented) -> ReadyTable:
    """The one table."""
    law = invented.code.in_force["small"].candidates[0].law
    assert law is not None
    return law.ready(invented.question)


def rows(invented: Invented) -> Iterator[tuple[str, str, Box]]:
    """Every box with its rule's id and outcome, rules before those they prevail over."""
    ready = ready_of(invented)
    for rule in ready.rules:
        for box in rule.where:
            yield rule.id, rule.then, box


def _as_it_is(record: Record) -> Record:
    return record


# ---- without anything else ------------------------------------------------------------------------------------------


def naive(invented: Invented) -> Other:
    """An interpreter that goes through the rules as they stand: every box, every cell; then who prevails over whom."""
    ready = ready_of(invented)
    over = {rule.id: {ready.rules[i].id for i in ready.beaten_by[n]} for n, rule in enumerate(ready.rules)}
    rules = [(rule.id, [[(name, _plain(cell)) for name, cell in box.items()] for box in rule.where])
             for rule in ready.rules]

    def decide(record: Record) -> str:
        fires = [i for i, boxes in rules if any(all(_holds(cell, record[n]) for n, cell in box) for box in boxes)]
        standing = [i for i in fires if not any(other in over[i] for other in fires)]
        return standing[0] if standing else "none"

    return Other("naive interpreter", _as_it_is, decide, True)


PlainCell = tuple[str, Any, Any]


def _plain(cell: Cell) -> PlainCell:
    if isinstance(cell, Within):
        return ("within", _number(cell.low), _number(cell.high))
    return ("one of" if isinstance(cell, OneOf) else "none of", tuple(cell.values), None)


def _number(number: object) -> float | None:
    assert number is None or isinstance(number, Fraction)
    return None if number is None else float(number)


def _holds(cell: PlainCell, value: Any) -> bool:
    kind, low, high = cell
    if kind == "one of":
        return value in low
    if kind == "none of":
        return value not in low
    return (low is None or value >= low) and (high is None or value < high)


def with_numpy(invented: Invented) -> Callable[[Sequence[Record]], list[str]]:
    """All records at once: for each box an array of who is in it; the first box in order gives the rule. Raises
    ImportError where numpy is not there."""
    numpy = import_module("numpy")
    listed = list(rows(invented))
    ids = [*(rule for rule, _, _ in listed), "none"]

    def decide(records: Sequence[Record]) -> list[str]:
        columns = {name: numpy.array([record[name] for record in records]) for name in records[0]}
        inside = numpy.ones((len(listed) + 1, len(records)), dtype=bool)
        for i, (_, _, box) in enumerate(listed):
            for name, cell in box.items():
                inside[i] &= _in_column(numpy, columns[name], cell)
        return [ids[i] for i in inside.argmax(axis=0)]

    return decide


def _in_column(numpy: Any, column: Any, cell: Cell) -> Any:
    if isinstance(cell, Within):
        low, high = _number(cell.low), _number(cell.high)
        above = True if low is None else column >= low
        return above if high is None else (column < high) & above
    inside = numpy.isin(column, list(cell.values))
    return ~inside if isinstance(cell, NoneOf) else inside


# ---- general-purpose engines ----------------------------------------------------------------------------------------


def engines(invented: Invented) -> Iterator[Other | str]:
    """Every engine that can express the table; a word for one that is not installed."""
    makers = (
        ("json-logic-qubit", _json_logic),
        ("jsonlogic-rs", _json_logic_rs),
        ("rule-engine", _rule_engine),
        ("zen-engine", _zen),
        ("pyDMNrules", _dmn),
    )
    for package, make in makers:
        try:
            yield make(invented, f"{package} {version(package)}")
        except (PackageNotFoundError, ImportError):
            yield f"{package}: not installed"
        except Exception as error:  # an engine's own way to say that it cannot take the table
            yield f"{package}: cannot express it ({type(error).__name__})"


def short(name: str) -> str:
    """A fact's name where dots mean something else."""
    return name.replace(".", "_")


def _short_keys(record: Record) -> dict[str, Any]:
    return {short(name): value for name, value in record.items()}


def _as_json_logic(invented: Invented) -> dict[str, Any]:
    """The boxes as one chain of ifs in JSON."""
    parts: list[Any] = []
    for rule, _, box in rows(invented):
        tests: list[Any] = []
        for name, cell in box.items():
            var = {"var": short(name)}
            if isinstance(cell, Within):
                low, high = _number(cell.low), _number(cell.high)
                tests += [] if low is None else [{">=": [var, low]}]
                tests += [] if high is None else [{"<": [var, high]}]
            else:
                inside = {"in": [var, list(cell.values)]}
                tests.append({"!": [inside]} if isinstance(cell, NoneOf) else inside)
        parts += [{"and": tests or [True]}, rule]
    return {"if": [*parts, "none"]}


def _json_logic(invented: Invented, name: str) -> Other:
    apply = import_module("json_logic").jsonLogic
    logic = _as_json_logic(invented)
    return Other(name, _short_keys, lambda record: str(apply(logic, record)), True)


def _json_logic_rs(invented: Invented, name: str) -> Other:
    apply = import_module("jsonlogic_rs").apply
    logic = _as_json_logic(invented)
    return Other(name, _short_keys, lambda record: str(apply(logic, record)), True)


def _rule_engine(invented: Invented, name: str) -> Other:
    make = import_module("rule_engine").Rule
    rules = [(rule, make(_expression(box))) for rule, _, box in rows(invented)]

    def decide(record: Record) -> str:
        for rule, test in rules:
            if test.matches(record):
                return rule
        return "none"

    return Other(name, _short_keys, decide, True)


def _expression(box: Box) -> str:
    tests: list[str] = []
    for name, cell in box.items():
        if isinstance(cell, Within):
            low, high = _number(cell.low), _number(cell.high)
            tests += [] if low is None else [f"{short(name)} >= {low}"]
            tests += [] if high is None else [f"{short(name)} < {high}"]
        else:
            listed = ", ".join(_literal(value) for value in cell.values)
            tests.append(f"{'not ' if isinstance(cell, NoneOf) else ''}({short(name)} in [{listed}])")
    return " and ".join(tests) or "true"


def _literal(value: object) -> str:
    return json.dumps(value)


def _zen(invented: Invented, name: str) -> Other:
    engine = import_module("zen").ZenEngine()
    decision = engine.create_decision(json.dumps(_as_graph(invented)))
    return Other(name, _short_keys, lambda record: str(decision.evaluate(record)["result"]["rule"]), True)


def _as_graph(invented: Invented) -> dict[str, Any]:
    """The boxes as a decision table of which the first row that matches counts."""
    facts = list(invented.facts)
    inputs = [{"id": f"i{i}", "name": short(n), "type": "expression", "field": short(n)} for i, n in enumerate(facts)]
    listed = [
        {"_id": f"r{n}", **{f"i{i}": _unary(box.get(fact)) for i, fact in enumerate(facts)}, "o": json.dumps(rule)}
        for n, (rule, _, box) in enumerate(rows(invented))
    ]
    listed.append({"_id": "last", **{f"i{i}": "" for i in range(len(facts))}, "o": '"none"'})
    output = {"id": "o", "name": "rule", "type": "expression", "field": "rule"}
    content = {"hitPolicy": "first", "inputs": inputs, "outputs": [output], "rules": listed}
    nodes = [("in", "inputNode", None), ("table", "decisionTableNode", content), ("out", "outputNode", None)]
    place = {"x": 0, "y": 0}
    return {
        "nodes": [
            {"id": i, "type": kind, "name": i, "position": place, **({"content": its} if its else {})}
            for i, kind, its in nodes
        ],
        "edges": [
            {"id": "a", "sourceId": "in", "targetId": "table", "type": "edge"},
            {"id": "b", "sourceId": "table", "targetId": "out", "type": "edge"},
        ],
    }


def _unary(cell: Cell | None) -> str:
    if cell is None:
        return ""
    if isinstance(cell, Within):
        low, high = _number(cell.low), _number(cell.high)
        return " and ".join([*([] if low is None else [f">= {low}"]), *([] if high is None else [f"< {high}"])])
    listed = ", ".join(_literal(value) for value in cell.values)
    return f"not($ in [{listed}])" if isinstance(cell, NoneOf) else listed


def _dmn(invented: Invented, name: str) -> Other:
    import_module("pyDMNrules")
    engine_module, dmn_module = import_module("dmn.engine"), import_module("yokebook_adapters.dmn")
    law = invented.code.in_force["small"].candidates[0].law
    engine = engine_module.PyDmnRules(dmn_module.as_dmn(law, invented.question, invented.code.book, conflicts=()))
    return Other(name, _short_keys, lambda record: str(engine.decide(record)), False)
