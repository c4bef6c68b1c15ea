"""Ruling itself: a pure function of the law in force and a record, total and independent of written order.

What is not known is split into the parts that a rule tells apart, and each part is ruled by itself, so the outcomes
found are those that some completion of the record has. Figures over a list enter as bounds, item by item; readings
are split once for everything.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import TypeVar

from yokebook import figures
from yokebook.assumptions import Assumptions
from yokebook.entities import ONE, Kind
from yokebook.graph import Missing, Thing
from yokebook.law import Candidate, Chosen, Law, ReadyTable
from yokebook.model import Box, Calculation, Fact
from yokebook.occurring import cannot_be, newly_assumed
from yokebook.openness import first_of, merged, parts_of, raise_open, split_of
from yokebook.pending import Pending, sure_of_the_word
from yokebook.session import (
    LowerFault,
    Outcome,
    answer_of,
    key_of,
    published,
)
from yokebook.values import (
    ANY_NUMBER,
    NA,
    NotApplicable,
    Some,
    Span,
    Split,
    Val,
    Var,
    intersect,
    known,
    single,
)

T = TypeVar("T")


#: References that may lead to nothing: nothing need be plugged in, and a receptacle may be on no wall.
OPTIONAL: frozenset[tuple[Kind, str]] = frozenset({("contact", "load"), ("yoke", "wall")})


class Context(Assumptions):
    """One completion in the making, and what a record and the law give in it; every method that needs something more
    raises Split for it."""

    def assume(self, var: Var, part: Span) -> Context:
        """The same with one thing more assumed, or assumed more narrowly. What the new one looks at counts as looked at
        here."""
        inner = Context(
            self.session, {**self.assumed, var: part}, self.fixed, self.seen, word_only=self.word_only
        )
        inner._looked = self._looked
        return inner

    # ---- things and inputs ----------------------------------------------------------------------------------------

    def one(self, thing: Thing, kind: Kind) -> Thing | None:
        """The thing of that kind that `thing` has one of; None where it is said to have none."""
        if thing.kind == kind:
            return thing
        found = self.session.given_one(thing, kind)
        if not isinstance(found, Missing):
            return found
        here = thing
        for step in ONE[thing.kind][kind]:
            if step not in here.refs:
                break
            following = here.refs[step]
            assert following is not None
            here = following
        if (here.kind, kind) in OPTIONAL:
            var = Var("link", key_of(here), kind)
            self._look(var)
            state = self.assumed.get(var)
            if state is None:
                raise Split(var, [known("none"), known("something")], (var,))
            if single(state) == "none":
                return None
            return self.session.phantom(here, kind)
        return self.session.stands_for(thing, kind, self.session.phantom(here, kind))

    def input(self, law: Law, thing: Thing, name: str) -> Val:
        """What is known of a fact, calculation, answer or reading that a cell or calculation of `thing` names."""
        if name.startswith("reading."):
            return self._reading(law, thing, name.removeprefix("reading."))
        if name.startswith("answer."):
            return self._answer(law, thing, name.removeprefix("answer."))
        kind, calculation, fact = self.session.meant(name)
        target = self.one(thing, kind)
        if target is None:
            return Val(NA)
        if calculation is not None:
            return self.figure(law, target, calculation)
        assert fact is not None
        return self._raw(law, target, fact)

    def _raw(self, law: Law, thing: Thing, fact: Fact) -> Val:
        given = self.given(thing, fact.id)
        # a fact given applies, or the record would not stand; only where another is taken for something else may it not
        if given is not None and (not self.session.instead or self.applies(law, thing, fact)):
            return Val(known(given))
        if given is not None or not self.applies(law, thing, fact):
            return Val(NA)
        return self._unknown(Var("fact", key_of(thing), fact.id), self.session.domain(fact))

    def applies(self, law: Law, thing: Thing, fact: Fact) -> bool:
        """Whether a fact has a meaning for a thing; raises Split where that is open."""
        return fact.applies_when is None or self.in_box(law, thing, fact.applies_when)

    def _unknown(self, var: Var, all_of_it: Span) -> Val:
        self._look(var)
        span = self.assumed.get(var, all_of_it)
        return Val(span, (var,), var)

    def figure(self, law: Law, thing: Thing, calculation: Calculation) -> Val:
        """What is known of a calculation for a thing: stated, computed, or its bounds."""
        stated = self.given(thing, calculation.id)
        if stated is not None:
            return Val(known(stated))
        return self.remembered(
            (id(law), key_of(thing), calculation.id),
            lambda: self._bounded(law, thing, calculation, figures.evaluate(self, law, thing, calculation)),
        )

    def _bounded(self, law: Law, thing: Thing, calculation: Calculation, val: Val) -> Val:
        """A figure of which only bounds are known is a thing to assume within them."""
        if val.var is not None and not calculation.ask_first:
            return val  # it is that other value itself, or looked up by it
        if val.preimage or (not val.maybe_na and (single(val.span) is not None or isinstance(val.span, NotApplicable))):
            return val
        var = Var("figure", key_of(thing), f"{law.kind}:{calculation.id}")
        self._look(var)
        if calculation.ask_first:
            val = val._replace(needs=(var,))
        assumed = self.assumed.get(var)
        if assumed is None:
            return Val(val.span, val.needs, var, maybe_na=val.maybe_na)
        joined = intersect(val.span, assumed)
        if joined is None:
            return Val(assumed, val.needs, var)
        return Val(joined, val.needs, var)

    # ---- readings and other documents -----------------------------------------------------------------------------

    def reading(self, law: Law, thing: Thing, reading_id: str) -> str:
        """The alternative in force; raises Split where published ones differ and none is chosen."""
        val = self._reading(law, thing, reading_id)
        alternative = single(val.span)
        if alternative is None:
            assert val.var is not None and isinstance(val.span, Some)
            raise Split(val.var, [known(v) for v in sorted(map(str, val.span.values))])
        return str(alternative)

    def chosen(self, law: Law, thing: Thing, reading_id: str) -> Chosen | None:
        """What a layer chose of a reading for this thing; None where none did. Raises Split where that is open."""
        for chosen in law.chosen.get(reading_id, ()):
            if chosen.where is None or self.in_box(law, thing, chosen.where):
                return chosen
        return None

    def _reading(self, law: Law, thing: Thing, reading_id: str) -> Val:
        chosen = self.chosen(law, thing, reading_id)
        if chosen is not None:
            return Val(known(chosen.alternative))
        var = Var("reading", ("", ""), reading_id)
        self._look(var)
        if reading_id in self.fixed:
            return Val(known(self.fixed[reading_id]))
        return Val(self.assumed.get(var, Some(frozenset(published(self.book, reading_id)))), (), var)

    def candidate(self, kind: str) -> Candidate | None:
        """The entry that governs a kind of document; None where the place has no line for it."""
        line = self.session.in_force.get(kind)
        if line is None:
            return None
        if len(line.candidates) == 1:
            return line.candidates[0]
        var = Var("entry", ("", ""), kind)
        self._look(var)
        assumed = self.assumed.get(var)
        if assumed is None:
            raise Split(var, [known(candidate.id) for candidate in line.candidates], (var,))
        return next(c for c in line.candidates if c.id == single(assumed))

    def _answer(self, law: Law, thing: Thing, name: str) -> Val:
        kind, question = answer_of(self.book, name, law.kind)
        target = self.one(thing, question.per)
        if target is None:
            return Val(NA)
        its_law: Law | None = law
        if kind != law.kind:
            candidate = self.candidate(kind)
            its_law = candidate.law if candidate is not None else None
        if its_law is None or not its_law.answers(question.id):
            given = self.given(target, f"answer.{kind}.{question.id}")
            if given is not None:
                return Val(known(given))
            var = Var("answer", key_of(target), f"{kind}:{question.id}")
            return self._unknown(var, Some(frozenset(question.outcomes)))
        outcome = self.decide(its_law, target, question.id)
        if outcome.status != "ruled":
            raise LowerFault(outcome)
        return Val(known(outcome.word))

    # ---- boxes and tables -----------------------------------------------------------------------------------------

    def in_any(self, law: Law, thing: Thing, boxes: Iterable[Box]) -> bool:
        """Whether any of the boxes holds; as `in_box`, and one that holds makes the others not matter."""
        pending: Split | None = None
        fault: LowerFault | None = None
        for box in boxes:
            try:
                if self.in_box(law, thing, box):
                    return True
            except Split as split:
                pending = first_of(pending, split)
            except LowerFault as lower:
                fault = first_of(fault, lower)
        raise_open(pending, fault)
        return False

    def in_box(self, law: Law, thing: Thing, box: Box) -> bool:
        """Whether every cell of a box holds for a thing; raises Split where that is open, LowerFault where it turns on
        a lower answer that is at fault."""
        pending: Split | None = None
        fault: LowerFault | None = None
        for name, cell in box.items():
            try:
                val = self.input(law, thing, name)
            except Split as split:
                pending = first_of(pending, split)
                continue
            except LowerFault as lower:
                fault = first_of(fault, lower)
                continue
            pieces = parts_of(val, law.cell(cell, name))
            if not any(bits for _, bits in pieces):
                return False
            if not all(bits for _, bits in pieces):
                pending = pending or split_of(val, merged(pieces, 1), self.all_of(val))
        raise_open(pending, fault)
        return True

    def decide(self, law: Law, thing: Thing, question: str) -> Outcome:
        """The outcome of a table for a thing in this completion; raises Split where it is open."""
        return self.remembered(
            (id(law), key_of(thing), f"answer.{question}"), lambda: self._rule(law, thing, law.ready(question))
        )

    def _rule(self, law: Law, thing: Thing, ready: ReadyTable) -> Outcome:
        may, pending = self.weighed(law, thing, ready)
        fired = sure_of_the_word(self.book, ready, may, pending) if self.word_only else None
        return self._outcome(ready, self.fired(ready, may, pending) if fired is None else fired)

    def weighed(self, law: Law, thing: Thing, ready: ReadyTable) -> tuple[int, list[Pending]]:
        """The boxes of a table that may hold for a thing, as bits, and the inputs that leave some of them open."""
        may = ready.all_bits
        pending: list[Pending] = []
        for name, index in ready.inputs.items():
            if not may & index.constrained:
                continue  # every box with a cell on it is out already
            try:
                val = self.input(law, thing, name)
            except (Split, LowerFault) as open_or_fault:
                pending.append(Pending(index.constrained, open_or_fault.with_traceback(None), name))
                continue
            pieces = parts_of(val, index)
            union, common = 0, ready.all_bits
            for _, bits in pieces:
                union |= bits
                common &= bits
            may &= union
            if union != common:
                pending.append(Pending(union & ~common, (val, pieces), name))
        return may, pending

    def fired(self, ready: ReadyTable, may: int, pending: list[Pending]) -> list[int]:
        """The rules that fire and that none which fires prevails over, exceptions first; raises Split where that is
        open, LowerFault where it turns on a lower answer that is at fault."""
        unsure = 0
        for bits, _, _ in pending:
            unsure |= bits
        fired: list[int] = []
        for i in range(len(ready.rules)):
            if not ready.beaten_by[i].isdisjoint(fired):
                continue
            where, but_not = ready.where[i] & may, ready.but_not[i] & may
            if not where or but_not & ~unsure:
                continue
            if where & ~unsure and not but_not:
                fired.append(i)
                continue
            matter = but_not if where & ~unsure else where | but_not
            raise self._first(pending, matter, may)
        return fired

    def _first(self, pending: list[Pending], matter: int, may: int) -> Split | LowerFault:
        """What to settle first of what matters: something not known before a fault that it may make irrelevant."""
        fault: LowerFault | None = None
        for bits, what, _ in pending:
            if not bits & matter:
                continue
            if isinstance(what, LowerFault):
                fault = fault or what
            elif isinstance(what, Split):
                return what
            else:
                val, pieces = what
                return split_of(val, merged(pieces, may), self.all_of(val))
        assert fault is not None, "a rule is open though no input of it is"
        return fault

    def all_of(self, val: Val) -> Span:
        """All values still possible of the fact behind a looked-up value."""
        if val.var is None or val.var.kind != "fact":
            return ANY_NUMBER
        return self.assumed.get(val.var, self.session.domain(self.book.facts[val.var.name]))

    def _outcome(self, ready: ReadyTable, fired: list[int]) -> Outcome:
        question = ready.table.question
        words = {ready.rules[i].then for i in fired}
        standing = tuple(ready.rules[i].id for i in fired)
        if len(words) == 1:
            return Outcome("ruled", next(iter(words)), standing, question)
        if words:
            ids = ", ".join(f"`{i}`" for i in sorted(standing))
            because = f"the rules {ids} of `{question}` fire together, say different things, and none prevails"
            return Outcome("conflict", "conflict", standing, question, because)
        if ready.table.none_fires.then is not None:
            return Outcome("ruled", ready.table.none_fires.then, (), question)
        return Outcome("silent", "silent", (), question, f"no rule of `{question}` fires, and it must not be silent")

    # ---- all completions ------------------------------------------------------------------------------------------

    def each_way(self, law: Law, part: Callable[[Context], T]) -> tuple[list[T], tuple[Var, ...]]:
        """What `part` gives over all completions of the facts it looks at that can occur, and those facts.

        Where none can occur it is what it gives over those all the same: the thing itself is then impossible, which is
        found where it is looked into. Readings, and which entry governs, are not completed here: a Split for one goes
        on outwards, so that they are the same everywhere.
        """
        results: list[T] = []
        faults: list[Outcome] = []
        left_out: list[T] = []
        needs: dict[Var, None] = {}
        for inner, result in self._completed(part, needs):
            cannot = inner is not self and cannot_be(inner, law, newly_assumed(inner, self.assumed)) is not None
            if isinstance(result, LowerFault):
                if not cannot:
                    faults.append(result.outcome)
            else:
                (left_out if cannot else results).append(result)
        if faults:
            self._fault(faults, tuple(needs), only=not results)
        return results or left_out, tuple(needs)

    def completions(self, part: Callable[[Context], T]) -> Iterator[tuple[Mapping[Var, Span], T]]:
        """Each completion of what `part` looks at, as what is assumed, with what it gives there, one by one; those at a
        lower answer's fault left out."""
        for inner, result in self._completed(part, {}):
            if not isinstance(result, LowerFault):
                yield inner.assumed, result

    def _completed(
        self, part: Callable[[Context], T], needs: dict[Var, None]
    ) -> Iterator[tuple[Context, T | LowerFault]]:
        """Each completion of what `part` looks at, with what it gives there; notes what was looked at."""
        stack: list[Context] = [self]
        while stack:
            inner = stack.pop()
            try:
                yield inner, part(inner)
            except LowerFault as fault:
                yield inner, fault.with_traceback(None)
            except Split as split:
                if split.var.kind in ("reading", "entry", "status"):
                    raise
                split.with_traceback(None)
                self.count()
                needs.update(dict.fromkeys(split.needs or (split.var,)))
                stack.extend(inner.assume(split.var, piece) for piece in split.parts)

    def _fault(self, faults: list[Outcome], needs: tuple[Var, ...], only: bool) -> None:
        """Lower answers that may be at fault: in the completions where one is, so is the upper ruling."""
        different = list({(fault.status, fault.table): fault for fault in faults}.values())
        for fault in different:
            if only and fault is different[-1]:
                raise LowerFault(fault)
            if self.at_fault(Var("status", ("", fault.status), fault.table), needs):
                raise LowerFault(fault)
