"""Which rule of a table prevails over which: the transitive closure of what its rules declare."""

from __future__ import annotations

from collections.abc import Mapping

from yokebook.load.faults import Fault, RulebookFaults
from yokebook.model import Rule, Table


def prevails(table: Table) -> dict[str, frozenset[str]]:
    """For every rule id of the table, the ids of the rules it prevails over, directly or through others.

    `exception_to: all` reaches every rule with another outcome that is neither itself an exception nor declared
    (by `exception_to` lists and `prevails_over`, directly or through others) to prevail over this one. Ids that name
    no rule of the table are passed over; link_faults in changes.py reports them.
    Raises RulebookFaults, one fault a cycle, where a rule would prevail over itself.
    """
    direct = _direct(table)
    cycles = _cycles(direct)
    if cycles:
        at = {rule.id: rule.at for rule in table.rules}
        raise RulebookFaults([Fault(at[cycle[0]], _cycle_message(cycle)) for cycle in cycles])
    return _closure(direct)


def _direct(table: Table) -> dict[str, frozenset[str]]:
    ids = frozenset(rule.id for rule in table.rules)
    declared = {rule.id: _declared(rule) & ids for rule in table.rules}
    direct = dict(declared)
    for rule in table.rules:
        if rule.exception_to == "all":
            stronger = _those_over(rule.id, declared)
            direct[rule.id] |= {
                other.id
                for other in table.rules
                if other.then != rule.then and not other.exception_to and other.id not in stronger
            }
    return direct


def _declared(rule: Rule) -> frozenset[str]:
    exceptions = () if rule.exception_to == "all" else rule.exception_to
    return frozenset(exceptions) | frozenset(rule.prevails_over)


def _those_over(rule: str, declared: Mapping[str, frozenset[str]]) -> frozenset[str]:
    """The rules declared, directly or through others, to prevail over this one."""
    found: set[str] = set()
    waiting = [rule]
    while waiting:
        loser = waiting.pop()
        for winner, losers in declared.items():
            if loser in losers and winner not in found:
                found.add(winner)
                waiting.append(winner)
    return frozenset(found)


def _closure(direct: Mapping[str, frozenset[str]]) -> dict[str, frozenset[str]]:
    """Everything that can be reached from each rule; the links have no cycle."""
    done: dict[str, frozenset[str]] = {}
    for start in direct:
        stack = [start]
        while stack:
            rule = stack[-1]
            open_ones = [other for other in direct[rule] if other not in done]
            if open_ones:
                stack.extend(open_ones)
                continue
            stack.pop()
            done[rule] = direct[rule].union(*(done[other] for other in direct[rule]))
    return {rule: done[rule] for rule in direct}


def _cycles(direct: Mapping[str, frozenset[str]]) -> list[tuple[str, ...]]:
    """One cycle for each knot of rules that prevail over each other, told from its first id in alphabetical order."""
    cycles: list[tuple[str, ...]] = []
    told: set[str] = set()
    for start in sorted(direct):
        if start in told:
            continue
        path = _way_back(start, direct)
        if path:
            cycles.append(path)
            told.update(path)
    return cycles


def _way_back(start: str, direct: Mapping[str, frozenset[str]]) -> tuple[str, ...]:
    """The shortest way from a rule back to itself, without the return; () where there is none."""
    came_from: dict[str, str] = {}
    waiting = [start]
    for rule in waiting:  # grows while it is walked
        for other in sorted(direct[rule]):
            if other == start:
                path = [rule]
                while path[-1] != start:
                    path.append(came_from[path[-1]])
                return tuple(reversed(path))
            if other not in came_from:
                came_from[other] = rule
                waiting.append(other)
    return ()


def _cycle_message(cycle: tuple[str, ...]) -> str:
    if len(cycle) == 1:
        return f"`{cycle[0]}` prevails over itself; a rule can prevail only over others"
    way = " over ".join(f"`{rule}`" for rule in (*cycle, cycle[0]))
    return f"exceptions go round in a circle: {way}; of two rules only one can prevail"
