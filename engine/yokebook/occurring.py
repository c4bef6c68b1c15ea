"""What cannot occur: combinations declared impossible, facts given where they do not apply, and stated figures that
cannot be what they are computed from."""

from __future__ import annotations

from functools import partial
from itertools import islice
from typing import TYPE_CHECKING

from yokebook import figures
from yokebook.graph import Thing
from yokebook.law import LawFault
from yokebook.model import Calculation, Impossible
from yokebook.session import LowerFault, key_of
from yokebook.values import NotApplicable, Val, Var, agrees

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from yokebook.deciding import Context
    from yokebook.law import Law
    from yokebook.values import Span


#: How many completions are looked through for ways out.
_MOST_TRIED = 100


def cannot_be(context: Context, law: Law, things: Iterable[Thing]) -> str | None:
    """Why no completion of what is assumed of these things can occur; None where one can, as far as is seen.

    Raises Split only for a reading, an entry or a lower table's fault that a combination or figure turns on.
    """
    if context.session.all_can_be:
        things = [thing for thing in things if thing in context.session.phantoms.values()]
    for thing in things:
        reason = context.remembered((id(law), key_of(thing), "cannot be"), partial(_reason, context, law, thing))
        if reason is not None:
            return reason
    return None


def newly_assumed(context: Context, already: Mapping[Var, Span]) -> list[Thing]:
    """The things of which something is assumed beyond `already`, those nobody listed included, in a stable order."""
    subjects = {
        var.subject
        for var, span in context.assumed.items()
        if var.kind in ("fact", "figure") and already.get(var) != span
    }
    return context.session.named(subjects) if subjects else []


def _reason(context: Context, law: Law, thing: Thing) -> str | None:
    return _declared(context, law, thing) or _stated(context, law, thing)


def ways_out(context: Context, law: Law, thing: Thing) -> tuple[frozenset[str], ...] | None:
    """What would make sure that a thing can be: sets of facts and figures, by id, so that it can be for some values of
    those of a set, whatever else is so. None where there is no way, or it takes other things to be known. Raises as
    `cannot_be`. The context has to be a fresh one."""
    if _stated(context, law, thing) is not None or any(var.kind not in ("fact", "figure") for var in context.seen):
        return None
    behind_stated = {var.name.rpartition(":")[2] for var in context.seen}
    declared, governed = _governed(context, thing)
    found: dict[frozenset[str], None] = {}
    ways = context.completions(_caught(law, thing, declared, governed))
    for assumed, reason in islice(ways, _MOST_TRIED):
        if reason is None and all(var.kind == "fact" for var in assumed):
            found[frozenset(behind_stated | {var.name for var in assumed})] = None
    if any(var.kind == "reading" for var in context.seen):
        return None  # an argued alternative of it may speak against the thing
    return tuple(found) or None


def _governed(context: Context, thing: Thing) -> tuple[list[Impossible], list[str]]:
    """The combinations declared of things like this one, and what is given of it that may not apply."""
    names = [
        name
        for name in thing.given
        if (fact := context.book.facts.get(name)) is not None
        and fact.applies_when is not None
        and context.given(thing, name) is not None
    ]
    return context.session.impossible_of(thing.kind), names


def _declared(context: Context, law: Law, thing: Thing) -> str | None:
    """By declared combinations and by facts given where they do not apply: the reason if every completion is caught."""
    declared, governed = _governed(context, thing)
    if not declared and not governed:
        return None
    first: str | None = None
    for _, reason in context.completions(_caught(law, thing, declared, governed)):
        if reason is None:
            return None  # it can be so, and how the others are does not matter
        first = first or reason
    return first


def _caught(
    law: Law, thing: Thing, declared: list[Impossible], governed: list[str]
) -> Callable[[Context], str | None]:
    def caught(inner: Context) -> str | None:
        for combination in declared:
            if inner.in_box(law, thing, combination.where):
                return f"{thing.label or thing.id}: {combination.because}"
        for name in governed:
            if not inner.applies(law, thing, inner.book.facts[name]):
                return f"{thing.label or thing.id}: `{name}` is given where it does not apply"
        return None

    return caught


def _stated(context: Context, law: Law, thing: Thing) -> str | None:
    """By figures stated of it that cannot be what they are computed from. Such figures are not looked into again while
    one is computed: that would only find more reasons."""
    if context.session.checking:
        return None
    for name in thing.given:
        calculation = context.book.calculations.get(name)
        stated = context.given(thing, name) if calculation is not None else None
        if calculation is None or stated is None:
            continue
        context.session.checking = True
        try:
            found, _ = context.each_way(law, _computed(law, thing, calculation))
        except (LowerFault, LawFault):
            continue  # this law has no answer or number that it is computed from, so that nothing speaks against it
        finally:
            context.session.checking = False
        # a figure that does not apply from what is known, stated all the same, is taken as stated
        if found and all(
            not agrees(val.span, stated) and not (isinstance(val.span, NotApplicable) or val.maybe_na)
            for val in found
        ):
            return f"{thing.label or thing.id}: `{name}` as stated is not what the other facts give"
    return None


def _computed(law: Law, thing: Thing, calculation: Calculation) -> Callable[[Context], Val]:
    return lambda inner: figures.evaluate(inner, law, thing, calculation)
