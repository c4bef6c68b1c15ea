"""Which questions a place's amendments can touch at all, so that the rest need not be ruled on twice."""

from __future__ import annotations

from collections.abc import Iterable

from yokebook.model import Book, Resolved, Table
from yokebook.reach import answer_named, names_in_expression, names_in_rule


def questions_touched(amended: Resolved, bare: Resolved, book: Book) -> frozenset[str]:
    """The questions of the amended document whose tables, or anything that these name, differ from the bare edition."""
    changed = {f"reading.{reading}" for reading, *_ in amended.chosen}
    changed |= {f"value.{name}" for name, value in amended.values.items() if bare.values.get(name) != value}
    moved = {q for q, table in amended.tables.items() if _decides(table) != _decides(bare.tables.get(q))}
    reach = _Reach(amended, book)
    return frozenset(
        q for q in amended.tables if q in moved or reach.of(q) & (changed | {f"answer.{m}" for m in moved})
    )


def _decides(table: Table | None) -> object:
    """What of a table decides: wording and sources left out."""
    if table is None:
        return None
    rules = {(r.id, r.then, r.exception_to, r.prevails_over): (r.where, r.but_not) for r in table.rules}
    return rules, table.none_fires.then


class _Reach:
    """The names that a question's rulings take, through answers and calculations of any depth."""

    def __init__(self, resolved: Resolved, book: Book) -> None:
        self.resolved = resolved
        self.book = book

    def of(self, question: str) -> frozenset[str]:
        """Every name reached, answers of the document's own as `answer.QUESTION`."""
        seen: set[str] = set()
        waiting = list(self._of_table(question))
        while waiting:
            name = waiting.pop()
            answer = answer_named(name, self.book)
            if answer is not None and answer[0] in (None, self.resolved.document.kind):
                name = f"answer.{answer[1]}"
            if name in seen:
                continue
            seen.add(name)
            if name in self.book.calculations:
                waiting.extend(names_in_expression(self.book.calculations[name].expression))
            elif answer is not None:
                waiting.extend(self._of_table(answer[1]))
        return frozenset(seen)

    def _of_table(self, question: str) -> Iterable[str]:
        table = self.resolved.tables.get(question)
        return [name for rule in table.rules for name in names_in_rule(rule)] if table is not None else []
