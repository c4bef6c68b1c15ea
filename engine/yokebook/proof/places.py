"""What a check finds in places: pins, lines of time with holes, and layers that relax what they may only tighten."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from yokebook import adoption
from yokebook.adopted_layers import layers_named
from yokebook.exploring import explore
from yokebook.law import Candidate, InForce, LawFault
from yokebook.layers import layer_uses, pin_faults
from yokebook.load.faults import RulebookFaults
from yokebook.model import At, Book, Entry, Layer, NumberValue, Place, Step
from yokebook.proof.compared import Compared
from yokebook.proof.cover import NotDecided, Region
from yokebook.proof.differences import Difference, at_boundary
from yokebook.proof.elements import Side, Space, space_of
from yokebook.proof.findings import Blamed, Finding, Severity, blamed_rule
from yokebook.proof.laws import Standing
from yokebook.proof.realise import Realised, Realiser
from yokebook.proof.shown import point_data, point_of, record_data, region_data
from yokebook.session import Session
from yokebook.units import format_number
from yokebook.values import Span


def pin_findings(book: Book, only: frozenset[str] | None = None) -> Iterator[Finding]:
    """Every op whose pin is missing or is not that of the text below its layer, once for each place that owns it."""
    told: set[tuple[At | str, str]] = set()
    for use, _ in layer_uses(book):
        if only is not None and use.owner.id not in only:
            continue
        for fault in pin_faults(book, use.below, use.layer):
            if (fault.at, fault.message) in told or not isinstance(fault.at, At):
                continue
            told.add((fault.at, fault.message))
            missing = "has no pin" in fault.message
            repair = "read the text below; then, with the file in the rulebook's `places` folder, `yokebook pin` it"
            blamed = Blamed(f"{use.owner.id}#{use.layer.id}", fault.at)
            kind = "missing pin" if missing else "stale pin"
            yield Finding(kind, "error", fault.message, blamed=(blamed,), repairs=(repair,), at=fault.at)


def unused_layer_findings(book: Book, only: frozenset[str] | None = None) -> Iterator[Finding]:
    """A warning for each layer that no entry of any place adopts: it is never in force, and none of its rules was
    looked at."""
    used = {
        (owner or place.id, layer)
        for place in book.places.values()
        for line in place.lines.values()
        for entry in line
        for owner, _, layer in (name.rpartition("#") for name in layers_named(entry))
    }
    for place in book.places.values():
        for layer in place.layers.values() if only is None or place.id in only else ():
            if (place.id, layer.id) not in used:
                says = f"no entry adopts layer `{layer.id}`, so it is never in force, and its rules were not looked at"
                repair = f"name it in the entry that it belongs to: `layers: [{layer.id}]` in its `adopts`"
                blamed = (Blamed(f"{place.id}#{layer.id}", layer.at),)
                yield Finding("layer never adopted", "warning", says, blamed=blamed, repairs=(repair,), at=layer.at)


# ---- lines of time -----------------------------------------------------------------------------------------------


def hole_findings(book: Book, only: frozenset[str] | None = None) -> Iterator[Finding]:
    """Days of a line of time for which nothing says what governs. Days before the first entry are a note: a line has to
    begin somewhere. Later ones, which a place followed leaves open, are an error."""
    for place in book.places.values():
        if only is not None and place.id not in only:
            continue
        for kind, line in place.lines.items():
            yield from _holes(book, place, kind, line)


def _holes(book: Book, place: Place, kind: str, line: tuple[Entry, ...]) -> Iterator[Finding]:
    days = sorted({"0001-01-01", *_days(book, place, kind, frozenset())})
    begun = False
    for number, day in enumerate(days):
        following = days[number + 1] if number + 1 < len(days) else None
        entry = _undeclared(book, place, kind, day)
        if entry is None:
            begun = True
            continue
        stretch = _stretch(day, following)
        says = f"{place.name}: nothing says which {kind} document governs {stretch}"
        repair = f"add an entry to the line `{kind}` for these days: what is adopted, or `not_entered` with the reason"
        at = entry.at if isinstance(entry, Entry) else line[0].at
        name = entry.id if isinstance(entry, Entry) else line[0].id
        severity: Severity = "error" if begun or isinstance(entry, Entry) else "note"
        yield Finding(
            "hole in a line of time", severity, says, blamed=(Blamed(name, at),), repairs=(repair,), at=at
        )


def _days(book: Book, place: Place, kind: str, seen: frozenset[str]) -> Iterator[str]:
    """The days on which what governs may change, those of places followed included."""
    if place.id in seen:
        return
    for entry in place.lines.get(kind, ()):
        if entry.on_or_after is not None:
            yield entry.on_or_after
        other = book.places.get(entry.follows or "")
        if other is not None:
            yield from _days(book, other, kind, seen | {place.id})


def _undeclared(book: Book, place: Place, kind: str, day: str) -> Entry | Place | None:
    """Whether nothing says what governs on a day: the entry that follows a place which does not say, or the place where
    its own line does not; None where something does."""
    try:
        found = adoption.candidates(book, place.id, kind, {}, {}, on=day, drafts=True)
    except RulebookFaults:
        return None  # told by whoever resolves the rulebook
    first = found[0]
    if first.entry is None:
        return place
    return first.entry if first.adopting is None else None


def _stretch(day: str, following: str | None) -> str:
    if day == "0001-01-01":
        return f"before {following}" if following else "on any day"
    return f"from {day}" + (f" to the day before {following}" if following else " on")


# ---- layers that relax -------------------------------------------------------------------------------------------


def relaxing_findings(
    book: Book, standing: Standing, realiser: Realiser, compared: Compared | None = None
) -> Iterator[Finding]:
    """Where the layers of a law make an outcome less strict than the text they amend has it: an error where one of
    them may only be stricter, else a warning; a note where the layers that do it say why they are meant to, and where
    no raw record was found that shows it.

    `compared` keeps what tables were found to differ in, for other laws in which they are the same.
    """
    if standing.below is None or standing.place is None or standing.adopts is None or not standing.adopts.layers:
        return
    layers = _layers(book, standing)
    for question, table in standing.law.resolved.tables.items():
        below = standing.below.resolved.tables.get(question)
        if below is not None and (below.rules != table.rules or below.none_fires != table.none_fires):
            try:
                yield from _relaxed_table(book, standing, realiser, question, layers, compared or Compared())
            except LawFault as fault:
                yield Finding("not decided", "not decided", str(fault), question, (standing.name,), at=table.at)
    for name, value in standing.law.resolved.values.items():
        before = standing.below.resolved.values.get(name)
        if before is not None and _laxer(before, value):
            yield _relaxed_value(standing, before, value, layers)


def _layers(book: Book, standing: Standing) -> list[Layer]:
    assert standing.place is not None and standing.adopts is not None
    found: list[Layer] = []
    for name in standing.adopts.layers:
        owner, _, layer = name.rpartition("#")
        place = book.places.get(owner) if owner else standing.place
        if place is not None and layer in place.layers:
            found.append(place.layers[layer])
    return found


def _relaxed_table(
    book: Book, standing: Standing, realiser: Realiser, question: str, layers: list[Layer], compared: Compared
) -> Iterator[Finding]:
    assert standing.below is not None
    space = space_of([Side(standing.below, question), Side(standing.law, question)], book, tied=True)
    order = list(book.questions[question].outcomes)
    changed = _touching(standing, question)
    try:
        found = compared.differences(space)
    except NotDecided:
        says = f"whether the amendments make `{question}` less strict is not decided: it would take too many steps"
        yield Finding("not decided", "not decided", says, question, (standing.name,), tuple(changed))
        return
    for change in found:
        was, now = change.was, change.now
        if was[0] == now[0] == "ruled" and order.index(now[1]) < order.index(was[1]):
            yield _relaxed(book, standing, realiser, space, change, changed, layers)


def _shown_by(
    book: Book, standing: Standing, realiser: Realiser, question: str, spans: dict[str, list[Span]], change: Difference
) -> Realised | None:
    """A record with the one outcome below and the other with the amendments, looked for among inputs as either law has
    them: where amendments change what lies behind an input, the record has other inputs there."""
    assert standing.below is not None
    kind = standing.below.kind
    without = {**standing.in_force, kind: InForce(kind, (Candidate(standing.name, "in force", standing.below, ""),))}
    chosen = {name: its[0].alternative for name, its in standing.law.chosen.items() if its and its[0].where is None}
    for search, other, its_own, others in (
        (realiser, without, change.now, change.was),
        (Realiser(book, standing.below, without), standing.in_force, change.was, change.now),
    ):
        found = search.find(question, spans, "ruled")
        if found is None or found.outcome.word != its_own[1]:
            continue
        session = Session(found.graph, book, other)
        anew = explore(session, question, found.subject, kind, {**chosen, **found.readings})
        if {leaf.outcome.key() for leaf in anew.leaves} == {others}:
            return found if search is realiser else replace(found, outcome=anew.leaves[0].outcome)
    return None


def _touching(standing: Standing, question: str) -> list[Blamed]:
    """What the layers did to a table: the rules they wrote or changed, and the ops that took one out."""
    found = [
        blamed_rule(rule)
        for rule in standing.law.resolved.tables[question].rules
        if any(step.by in standing.steps for step in rule.chain)
    ]
    for amendment in standing.law.resolved.amendments:
        found += [
            Blamed(op.target, op.at, "", op.says or amendment.says, op.cite or amendment.cite, amendment.id)
            for op in amendment.ops
            if op.op == "delete" and op.target.startswith(f"{question}#")
        ]
    return found


def _relaxed(
    book: Book,
    standing: Standing,
    realiser: Realiser,
    space: Space,
    change: Difference,
    changed: list[Blamed],
    layers: list[Layer],
) -> Finding:
    record: Realised | None = None
    region = change.regions[0]
    for region in change.regions:
        record = _shown_by(book, standing, realiser, space.question.id, space.spans(region), change)
        if record is not None:
            break
    said = f"`{space.question.id}` is {change.now[1]} here, and without the amendments it is {change.was[1]}"
    nearest = _nearest_first(changed, space, region)
    severity, because = _gravity(layers, nearest)
    boundary = at_boundary(space, region)
    if boundary:
        said += "; it is only at single numbers"
    if record is None:
        severity = "note"
    others = [each for each in change.regions if each != region]
    return Finding(
        "less strict than the text below",
        severity,
        said + because,
        space.question.id,
        (standing.name,),
        tuple(nearest),
        tuple(region_data(space, region)),
        tuple(tuple(region_data(space, each)) for each in others),
        change.more,
        tuple(boundary),
        point_data(book, point_of(space, region)),
        "shown" if record is not None else "not shown",
        None if record is None else record_data(book, record),
        (
            "if that is meant, say in the layer why, `less_strict: WHY`; if not, add a rule for these records that "
            f"says {change.was[1]}, or narrow the amendment so that it leaves them out",
        ),
        changed[0].at if changed else None,
    )


def _gravity(layers: list[Layer], blamed: list[Blamed]) -> tuple[Severity, str]:
    """How serious it is that amendments ask for less than the text below, and what their layers say of it: a note
    where each layer that is to blame is meant to."""
    bound = [layer for layer in layers if layer.stricter_only]
    if bound:
        return "error", "".join(f"; layer `{each.id}` may only be stricter: {each.stricter_only}" for each in bound)
    by = {each.by for each in blamed}
    to_blame = [layer for layer in layers if by & {amendment.id for amendment in layer.amendments}]
    if not to_blame or not all(layer.less_strict for layer in to_blame):
        return "warning", ""
    return "note", "".join(f"; layer `{each.id}` is meant to ask for less: {each.less_strict}" for each in to_blame)


def _nearest_first(changed: list[Blamed], space: Space, region: Region) -> list[Blamed]:
    """The smallest set to blame: the rules below that no longer speak here, as the layers have them now."""
    before = {r.id for n, r in enumerate(space.rows[0].rules) if _fires(space, 0, n, region)}
    now = {r.id for n, r in enumerate(space.rows[1].rules) if _fires(space, 1, n, region)}
    moved = (before | now) - (before & now)
    named = [each for each in changed if each.id in moved]
    return named or changed


def _fires(space: Space, side: int, number: int, region: Region) -> bool:
    rows = space.rows[side]
    return bool(rows.cover.overlapping(region, rows.boxes_of[number]))


def _laxer(before: NumberValue, now: NumberValue) -> bool:
    if before.value == now.value or now.stricter == "neither":
        return False
    return (now.value > before.value) == (now.stricter == "lower")


def _relaxed_value(standing: Standing, before: NumberValue, now: NumberValue, layers: list[Layer]) -> Finding:
    said = (
        f"`value.{now.id}` is {format_number(now.value, now.unit)} here, and without the amendments it is "
        f"{format_number(before.value, before.unit)}; {now.stricter} is stricter"
    )
    blamed = Blamed(f"value.{now.id}", now.at, "", now.says, now.cite, _last(now.chain))
    severity, because = _gravity(layers, [blamed])
    found = Finding("less strict than the text below", severity, said + because, "", (standing.name,), (blamed,))
    return replace(found, at=now.at, repairs=(_SAY_WHY,))


_SAY_WHY = "if that is meant, say in the layer why, `less_strict: WHY`; if not, set the number anew"


def _last(chain: tuple[Step, ...]) -> str:
    return chain[-1].by if chain else ""

