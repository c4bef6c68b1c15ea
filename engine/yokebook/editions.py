"""Editions: each starts from the one it follows and says of every rule and value: carried, or how it changed."""

from __future__ import annotations

from dataclasses import dataclass, replace

from yokebook.changes import (
    Change,
    Text,
    apply_changes,
    cycle_faults,
    link_faults,
    question_of,
    target_of,
    unset_value_faults,
)
from yokebook.load.faults import Fault, RulebookFaults, listed, suggest
from yokebook.model import (
    At,
    Book,
    Carried,
    Cite,
    Edition,
    NoneFires,
    NumberValue,
    Op,
    Resolved,
    Rule,
    Step,
    Table,
)


def resolve_edition(book: Book, document: str, edition: str) -> Resolved:
    """A bare edition of a document, no place and no layer: its tables and values with the chain of each.

    Raises RulebookFaults with every fault of this edition and those it follows, or of a name that the book lacks.
    """
    if document not in book.documents:
        found = f"no document `{document}` in this rulebook{suggest(document, book.documents)}"
        raise RulebookFaults([Fault("document", found)])
    if (document, edition) not in book.editions:
        there = [e for d, e in book.editions if d == document]
        found = f"no edition `{edition}` of `{document}` in this rulebook; there are {listed(there)}"
        raise RulebookFaults([Fault("edition", found)])
    ready = None if book.worked_out is None else book.worked_out.laws.get((document, edition, ()))
    if ready is not None:
        return ready
    line, faults = _line(book, book.editions[document, edition])
    text = _nothing()
    for each in line:
        text, more = _next(book, each, text)
        faults.extend(more)
    if faults:
        raise RulebookFaults(faults)
    return Resolved(
        document=book.documents[document],
        edition=edition,
        place=None,
        entry=None,
        tables=text.tables(),
        values=text.values,
        chosen=(),
        amendments=(),
        amendments_entered="none",
    )


def edition_faults(book: Book) -> list[Fault]:
    """What is wrong with the editions of all documents, each fault once."""
    faults: dict[Fault, None] = {}
    for edition in book.editions.values():
        line, line_faults = _line(book, edition)
        text = _nothing()
        found = line_faults
        for each in line:
            text, more = _next(book, each, text)
            found.extend(more)
        faults.update(dict.fromkeys(found))
    return list(faults)


def _nothing() -> Text:
    return Text((), (), "the edition before the first")


def _line(book: Book, edition: Edition) -> tuple[list[Edition], list[Fault]]:
    """The editions from the first to this one, and what is wrong with the way they follow each other."""
    line = [edition]
    while line[-1].follows is not None:
        last = line[-1]
        assert last.follows is not None
        before = book.editions.get((last.document, last.follows))
        if before is None:
            there = [e for d, e in book.editions if d == last.document]
            found = f"{_name(last)} follows `{last.follows}`, which is not an edition here; there are {listed(there)}"
            return line[::-1], [Fault(last.at, found)]
        if before in line:
            way = " follows ".join(f"`{e.edition}`" for e in (*line[line.index(before) :], before))
            return line[::-1], [Fault(last.at, f"editions of `{last.document}` follow each other in a circle: {way}")]
        line.append(before)
    return line[::-1], []


def _name(edition: Edition) -> str:
    return f"{edition.document} {edition.edition}"


def _next(book: Book, edition: Edition, before: Text) -> tuple[Text, list[Fault]]:
    """The text of an edition, made from that of the one before (empty for the first), and the edition's own faults."""
    text = Text(before.tables().values(), before.values.values(), _name(edition))
    accounts = _Accounts(edition, before)
    faults = accounts.faults()
    for rule_id, carried in accounts.carried.items():
        _carry(text, rule_id, carried, _name(edition))
    faults.extend(_write_new_values(text, edition, before))
    # a change whose id the accounts find fault with is not made: it would be reported twice
    changes = [
        _change(edition, op)
        for op in edition.changes
        if op.op == "add" or (op.op != "choose_reading" and accounts.counts(_full_id(op)) == 1)
    ]
    faults.extend(apply_changes(text, before, changes, book))
    faults.extend(_write_new_tables(text, edition, before, book))
    return text, faults


def _full_id(op: Op) -> str:
    kind, name = target_of(op)
    return f"value.{name}" if kind == "value" else name


def _change(edition: Edition, op: Op) -> Change:
    brought = op.rule or op.value or op.none_fires
    cite = (brought.cite if brought else None) or op.cite
    says = op.says or (brought.says if brought else "")
    return Change(op, _name(edition), cite, says, op.checked, "whole")


# ---- every rule and value exactly once --------------------------------------------------------------------------


@dataclass(frozen=True)
class _Named:
    """One place where an edition names an id of the edition before."""

    at: At
    how: str  # "carried", or the op


class _Accounts:
    """What an edition says of each id of the one before."""

    def __init__(self, edition: Edition, before: Text) -> None:
        self.edition, self.before = edition, before
        self.known = dict.fromkeys(before.ids())
        self.named: dict[str, list[_Named]] = {}
        self.carried: dict[str, Carried] = {}
        self._empty: list[Fault] = []
        for op in edition.changes:
            if op.op not in ("add", "choose_reading"):
                self.named.setdefault(_full_id(op), []).append(_Named(op.at, op.op))
        short: list[tuple[str, Carried]] = []
        for carried in edition.carried:
            for rule_id in carried.rules:
                if rule_id.endswith("#*"):
                    short.append((question_of(rule_id), carried))
                else:
                    self._carry(rule_id, carried)
        for question, carried in short:
            self._carry_rest(question, carried)

    def _carry(self, rule_id: str, carried: Carried) -> None:
        self.named.setdefault(rule_id, []).append(_Named(carried.at, "carried"))
        self.carried[rule_id] = carried

    def _carry_rest(self, question: str, carried: Carried) -> None:
        if question not in self.before.rules:
            found = f"`{question}#*` is carried, but {self.before.name} has no such table"
            self._empty.append(Fault(carried.at, found + suggest(question, self.before.rules)))
            return
        rest = [i for i in (*self.before.rules[question], f"{question}#none_fires") if i not in self.named]
        if not rest:
            found = f"`{question}#*` carries nothing: this edition names every rule of that table elsewhere"
            self._empty.append(Fault(carried.at, found))
        for rule_id in rest:
            self._carry(rule_id, carried)

    def counts(self, rule_id: str) -> int:
        """How often the edition names this id of the one before; 0 also where that one has no such id."""
        return len(self.named.get(rule_id, ())) if rule_id in self.known else 0

    def faults(self) -> list[Fault]:
        """Forgotten, twice named and unknown ids, and what an edition may not do."""
        name, known = _name(self.edition), self.known
        faults = list(self._empty)
        for op in self.edition.changes:
            if op.op == "choose_reading":
                found = f"{name} chooses the reading `{op.target}`; an edition cannot, a place's layer can"
                faults.append(Fault(op.at, found))
        for rule_id in known:
            if rule_id not in self.named:
                wrote = f"{self.before.name} has it at {self._where(rule_id)}"
                faults.append(Fault(self.edition.at, f"{name} forgets `{rule_id}`: carry or change it; {wrote}"))
        for rule_id, places in self.named.items():
            if rule_id not in known:
                hint = suggest(rule_id, known)
                for place in places:
                    found = f"{place.how} `{rule_id}`: {self.before.name} does not have it{hint}"
                    faults.append(Fault(place.at, found))
            else:
                first = places[0]
                for place in places[1:]:
                    found = f"`{rule_id}` is named twice in {name}: {place.how} here, {first.how} at {first.at}"
                    faults.append(Fault(place.at, found))
        return faults

    def _where(self, rule_id: str) -> At:
        if rule_id.startswith("value."):
            return self.before.values[rule_id.removeprefix("value.")].at
        if rule_id.endswith("#none_fires"):
            return self.before.none_fires[question_of(rule_id)].at
        return self.before.rules[question_of(rule_id)][rule_id].at


# ---- carrying and writing ---------------------------------------------------------------------------------------


def _carry(text: Text, rule_id: str, carried: Carried, by: str) -> None:
    """The rule, none_fires or value of this id as the edition carries it: new mark, perhaps a new section."""
    question = question_of(rule_id)
    if rule_id.startswith("value."):
        name = rule_id.removeprefix("value.")
        if name in text.values:
            text.values[name] = _carried_value(text.values[name], carried, by)
    elif rule_id.endswith("#none_fires"):
        if question in text.none_fires:
            text.none_fires[question] = _carried_none_fires(text.none_fires[question], carried, by)
    elif rule_id in text.rules.get(question, {}):
        text.rules[question][rule_id] = _carried_rule(text.rules[question][rule_id], carried, by)


def _moved(cite: Cite, carried: Carried) -> Cite:
    return cite if carried.section is None else Cite(cite.document, carried.section)


def _carried_rule(rule: Rule, carried: Carried, by: str) -> Rule:
    cite = _moved(rule.cite, carried)
    chain = (*rule.chain, Step(by, "carried", cite, "", carried.at))
    return replace(rule, cite=cite, checked=carried.checked, chain=chain)


def _carried_value(value: NumberValue, carried: Carried, by: str) -> NumberValue:
    cite = _moved(value.cite, carried)
    chain = (*value.chain, Step(by, "carried", cite, "", carried.at))
    return replace(value, cite=cite, checked=carried.checked, chain=chain)


def _carried_none_fires(none_fires: NoneFires, carried: Carried, by: str) -> NoneFires:
    cite = None if none_fires.cite is None else _moved(none_fires.cite, carried)
    chain = (*none_fires.chain, Step(by, "carried", cite, "", carried.at))
    return replace(none_fires, cite=cite, checked=carried.checked, chain=chain)


def _write_new_values(text: Text, edition: Edition, before: Text) -> list[Fault]:
    """Write the values that this edition is the first to have; a fault for each that is not new."""
    faults: list[Fault] = []
    for value in edition.values:
        if value.id in before.values:
            found = f"{before.name} has `value.{value.id}` already; carry it or write `set_value`"
            faults.append(Fault(value.at, found))
            continue
        step = Step(_name(edition), "written", value.cite, value.says, value.at)
        text.values[value.id] = replace(value, chain=(step,))
    return faults


def _write_new_tables(text: Text, edition: Edition, before: Text, book: Book) -> list[Fault]:
    """Write the tables that this edition is the first to have; what is wrong with them."""
    faults: list[Fault] = []
    new: list[str] = []
    for table in edition.tables:
        if table.question in before.rules:
            found = f"{before.name} has the table `{table.question}` already; carry or change its rules one by one"
            faults.append(Fault(table.at, found))
            continue
        new.append(table.question)
        faults.extend(_write_table(text, table, _name(edition)))
    ids = [rule for question in new for rule in text.rules[question]]
    broken = [*link_faults(text, ids), *unset_value_faults(text, ids, book)]
    return [*faults, *broken, *([] if broken else cycle_faults(text, new))]


def _write_table(text: Text, table: Table, by: str) -> list[Fault]:
    """Write a whole table; a fault for each id that stands in it twice."""
    faults: list[Fault] = []
    none_fires = table.none_fires
    step = Step(by, "written", none_fires.cite, none_fires.says, none_fires.at)
    text.none_fires[table.question] = replace(none_fires, chain=(step,))
    text.at[table.question] = table.at
    rules: dict[str, Rule] = {}
    for rule in table.rules:
        if rule.id in rules:
            faults.append(Fault(rule.at, f"`{rule.id}` is in the table twice: here and at {rules[rule.id].at}"))
            continue
        rules[rule.id] = replace(rule, chain=(Step(by, "written", rule.cite, rule.says, rule.at),))
    text.rules[table.question] = rules
    return faults
