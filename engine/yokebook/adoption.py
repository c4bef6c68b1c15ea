"""Places and dates: which entry of a place's line of time governs a project, and what it puts in force."""

from __future__ import annotations

import re
import weakref
from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from typing import Literal, NamedTuple

from yokebook.adopted_layers import find_layer, ways_of_windows, with_added
from yokebook.frozen import dataclass
from yokebook.load.faults import Fault, RulebookFaults, listed, suggest
from yokebook.model import Adopts, Book, Entry, LawName, Layer, NotEntered, Place, Resolved
from yokebook.overview import all_choices, all_events, events_of

State = Literal["in force", "none in force", "not entered"]


class DateNeed(NamedTuple):
    """The date of an event that could change which entry governs."""

    kind: Literal["date"]
    event: str


class ChoiceNeed(NamedTuple):
    """A choice that an entry leaves to the project."""

    kind: Literal["choice"]
    id: str
    asks: str
    alternatives: tuple[str, ...]


Need = DateNeed | ChoiceNeed


class Candidate(NamedTuple):
    """One way the law may stand for a project, as far as its dates and choices are given."""

    entry: Entry | None  # of the place asked for; None before the first entry, or where the place has no such line
    resolved: Resolved | None  # only in state "in force"
    state: State
    reason: str  # why nothing is in force or entered; "" when in force
    needs: tuple[Need, ...]  # what would have to be known to be sure that this one governs; () when sure
    place: str  # the place whose entry adopts: the one asked for, or the one it follows
    adopting: Entry | None  # that place's entry; the same as `entry` unless it follows another place
    alternative: str | None = None  # of a choice
    variant: str = ""  # where a date that is not given decides on layers: which of them are in


def in_force_documents(
    book: Book,
    place: str,
    dates: Mapping[str, str],
    on: str | None,
    choices: Mapping[str, str],
    drafts: bool = False,
) -> dict[str, list[Candidate]]:
    """For each kind of document that the place has a line for, every way the law may stand, latest entry first.

    `dates` gives the date of each event, `on` the date of every event that `dates` leaves out; both ISO text.
    Raises RulebookFaults: unknown place, no real date, unknown choice or alternative, and every fault of the editions
    and layers that may govern (with `drafts`, missing and stale pins are let pass).
    """
    where = _place(book, place)
    _check_dates(book, dates, on)
    _check_choices(book, choices)
    found: dict[str, list[Candidate]] = {}
    faults: dict[Fault, None] = {}
    for kind in where.lines:
        try:
            found[kind] = candidates(book, place, kind, dates, choices, on=on, drafts=drafts)
        except RulebookFaults as wrong:
            faults.update(dict.fromkeys(wrong.faults))
    if faults:
        raise RulebookFaults(faults)
    return found


def candidates(
    book: Book,
    place: str,
    kind: str,
    dates: Mapping[str, str],
    choices: Mapping[str, str],
    *,
    on: str | None = None,
    drafts: bool = False,
) -> list[Candidate]:
    """Every way one kind of document may stand, latest entry first; exactly one where dates and choices settle it.

    The latest entry in file order whose date the project meets governs. A date that is not given keeps every entry
    that the other dates leave possible, and a choice not made keeps every alternative.
    Raises RulebookFaults as in_force_documents does.
    """
    where = _place(book, place)
    _check_dates(book, dates, on)
    line = _Line(book, kind, dates, on, choices, drafts)
    found, faults = line.walk(where, (), ())
    if faults:
        raise RulebookFaults(faults)
    return found


def line_events(book: Book, place: str) -> tuple[str, ...]:
    """The events whose dates can matter at a place, in file order, those of places it follows included.

    Raises RulebookFaults for an unknown place.
    """
    events: dict[str, None] = {}
    waiting, seen = [_place(book, place)], {place}
    for where in waiting:  # grows while it is walked
        for line in where.lines.values():
            for entry in line:
                events.update(dict.fromkeys(events_of(book, where, entry)))
                other = book.places.get(entry.follows or "")
                if other is not None and other.id not in seen:
                    seen.add(other.id)
                    waiting.append(other)
    return tuple(events)


#: The entries by which places follow, each with its place, the one nearest to what is adopted first.
_Over = tuple[tuple[Place, Entry], ...]


@dataclass(frozen=True, slots=True)
class _Line:
    """The walk along one kind's line of time, here and at places followed."""

    book: Book
    kind: str
    dates: Mapping[str, str]
    on: str | None
    choices: Mapping[str, str]
    drafts: bool

    def walk(self, place: Place, via: tuple[str, ...], over: _Over) -> tuple[list[Candidate], list[Fault]]:
        """Candidates of this place's line, latest entry first, and the faults of what they put in force."""
        if self.kind not in place.lines:
            reason = f"no adoption of this kind of document is entered for {place.name}"
            return [Candidate(None, None, "not entered", reason, (), place.id, None)], []
        found: list[Candidate] = []
        faults: list[Fault] = []
        needs: dict[Need, None] = {}
        for entry in reversed(place.lines[self.kind]):
            met = self._met(entry)
            if met is False:
                continue
            if met is None:
                assert entry.event is not None
                needs[DateNeed("date", entry.event)] = None
            more, wrong = self._of(place, entry, tuple(needs), (*via, place.id), over)
            found.extend(more)
            faults.extend(wrong)
            if met:
                return found, faults
        reason = "no adoption entered for this date"
        found.append(Candidate(None, None, "not entered", reason, tuple(needs), place.id, None))
        return found, faults

    def _met(self, entry: Entry) -> bool | None:
        """Whether the project meets the entry's date; None where the event's date is not given."""
        if entry.event is None or entry.on_or_after is None:
            return True
        day = self.dates.get(entry.event, self.on)
        # ISO dates compare as text
        return None if day is None else day >= entry.on_or_after

    def _of(
        self, place: Place, entry: Entry, needs: tuple[Need, ...], via: tuple[str, ...], over: _Over
    ) -> tuple[list[Candidate], list[Fault]]:
        """What one entry puts in force."""
        if entry.none_in_force is not None:
            return [Candidate(entry, None, "none in force", entry.none_in_force, needs, place.id, entry)], []
        if entry.not_entered is not None:
            return [Candidate(entry, None, "not entered", entry.not_entered, needs, place.id, entry)], []
        if entry.follows is not None:
            return self._followed(place, entry, needs, via, over)
        if entry.choice is not None:
            return self._chosen(place, entry, needs, over)
        assert entry.adopts is not None
        return self._adopted(place, entry, entry.adopts, needs, None, over)

    def _followed(
        self, place: Place, entry: Entry, needs: tuple[Need, ...], via: tuple[str, ...], over: _Over
    ) -> tuple[list[Candidate], list[Fault]]:
        name = entry.follows
        assert name is not None
        if name in via:
            return [], [Fault(entry.at, _circle((*via[via.index(name) :], name)))]
        if name not in self.book.places:
            return [], [Fault(entry.at, _unknown_place(self.book, name))]
        found, faults = self.walk(self.book.places[name], via, ((place, entry), *over))
        all_needs = [(c, tuple(dict.fromkeys((*needs, *c.needs)))) for c in found]
        first = via[0]
        return [_seen_from(first, c._replace(entry=entry, needs=n)) for c, n in all_needs], faults

    def _chosen(
        self, place: Place, entry: Entry, needs: tuple[Need, ...], over: _Over
    ) -> tuple[list[Candidate], list[Fault]]:
        assert entry.choice is not None and entry.choice_id is not None
        made = self.choices.get(entry.choice_id)
        if made is not None and made not in entry.choice:
            found = f"`{made}` is no alternative of this choice; there are {listed(entry.choice)}"
            return [], [Fault(f"choices.{entry.choice_id}", found + suggest(made, entry.choice))]
        if made is not None:
            return self._adopted(place, entry, entry.choice[made], needs, made, over)
        need = ChoiceNeed("choice", entry.choice_id, entry.choice_asks or "", tuple(entry.choice))
        each = [self._adopted(place, entry, taken, (*needs, need), way, over) for way, taken in entry.choice.items()]
        return [c for found, _ in each for c in found], [f for _, faults in each for f in faults]

    def _adopted(
        self,
        place: Place,
        entry: Entry,
        taken: Adopts | NotEntered,
        needs: tuple[Need, ...],
        way: str | None,
        over: _Over,
    ) -> tuple[list[Candidate], list[Fault]]:
        """What is adopted, with what places that follow put over it, for each way in which layers may apply."""
        if isinstance(taken, NotEntered):
            return [Candidate(entry, None, "not entered", taken.reason, needs, place.id, entry, way)], []
        for follower, its in over:
            taken = with_added(taken, follower, its)
        ways, events = ways_of_windows(self.book, place, taken.layers, self.dates, self.on)
        all_needs = tuple(dict.fromkeys((*needs, *(DateNeed("date", event) for event in events))))
        found: list[Candidate] = []
        for layers in ways:
            try:
                core = resolve_adoption(self.book, place, entry, replace(taken, layers=layers), self.drafts)
            except RulebookFaults as wrong:
                return [], list(wrong.faults)
            resolved = replace(core, place=place.id, entry=entry, amendments_entered=taken.amendments)
            variant = _variant(taken.layers, layers) if events else ""
            found.append(Candidate(entry, resolved, "in force", "", all_needs, place.id, entry, way, variant))
        return found, []


def _variant(layers: tuple[str, ...], applied: tuple[str, ...]) -> str:
    left = [name for name in layers if name not in applied]
    return f"without {' and '.join(left)}" if left else "with all its layers"


def _seen_from(place: str, candidate: Candidate) -> Candidate:
    """A followed candidate with its document in force at the place asked for, the adopting place kept beside it."""
    if candidate.resolved is None:
        return candidate
    resolved = replace(candidate.resolved, place=place, extra={"adopted by": candidate.place})
    return candidate._replace(resolved=resolved)


# ---- resolving, each text once ------------------------------------------------------------------------------------

_Key = tuple[LawName, bool]
_DONE: dict[int, dict[_Key, Resolved]] = {}


def _done(book: Book) -> dict[_Key, Resolved]:
    """What has been resolved of this book; it goes when the book goes."""
    if id(book) not in _DONE:
        _DONE[id(book)] = {}
        weakref.finalize(book, _DONE.pop, id(book), None)
    return _DONE[id(book)]


def resolve_adoption(book: Book, place: Place, entry: Entry, adopts: Adopts, drafts: bool) -> Resolved:
    """The document that an entry adopts with its layers; with `drafts`, missing and stale pins are let pass.

    Raises RulebookFaults.
    """
    layers = []
    for name in adopts.layers:
        found = find_layer(book, place, name)
        if found is None:
            raise RulebookFaults([Fault(entry.at, unknown_layer(book, place, name))])
        layers.append(found)
    law: LawName = (adopts.document, adopts.edition, tuple((owner.id, layer.id) for owner, layer in layers))
    if book.worked_out is not None and law in book.worked_out.laws:
        return book.worked_out.laws[law]
    return _resolve(book, law, [layer for _, layer in layers], drafts)


def _resolve(book: Book, law: LawName, layers: list[Layer], drafts: bool) -> Resolved:
    """The document with one layer after the other over it, each step made once."""
    from yokebook.editions import resolve_edition  # only here: of a book from a pack nothing is resolved
    from yokebook.layers import apply_layer

    done = _done(book)
    document, edition, names = law
    key: _Key = ((document, edition, ()), drafts)
    if key not in done:
        done[key] = resolve_edition(book, document, edition)
    for number, layer in enumerate(layers, 1):
        below = done[key]
        key = ((document, edition, names[:number]), drafts)
        if key not in done:
            done[key] = apply_layer(book, below, layer, drafts=drafts)
    return done[key]


# ---- what was asked -----------------------------------------------------------------------------------------------

_ISO = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


def is_date(text: str) -> bool:
    """Whether this is the ISO date of a real day.

    >>> is_date("2024-02-29"), is_date("2023-02-29"), is_date("20240229")
    (True, False, False)
    """
    if not _ISO.fullmatch(text):
        return False
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True


def unknown_layer(book: Book, place: Place, name: str) -> str:
    """The message for a layer that an entry names and that is not there."""
    known = [*place.layers, *(f"{p.id}#{layer}" for p in book.places.values() if p is not place for layer in p.layers)]
    return f"no layer `{name}` in {place.id}{suggest(name, known)}"


def _unknown_place(book: Book, name: str) -> str:
    return f"no place `{name}` in this rulebook{suggest(name, book.places)}"


def _circle(places: tuple[str, ...]) -> str:
    return f"places follow each other in a circle: {' follows '.join(f'`{place}`' for place in places)}"


def _place(book: Book, place: str) -> Place:
    if place not in book.places:
        raise RulebookFaults([Fault("place", _unknown_place(book, place))])
    return book.places[place]


def _check_dates(book: Book, dates: Mapping[str, str], on: str | None) -> None:
    given = [(f"dates.{event}", day) for event, day in dates.items()]
    if on is not None:
        given.append(("on", on))
    faults = [Fault(field, f"`{day}` is not {REAL_DATE}") for field, day in given if not is_date(day)]
    known = all_events(book)
    # an event that no place goes by is a slip of the pen, which would leave the real one open
    faults += [
        Fault(f"dates.{event}", f"no place of this rulebook goes by a date of `{event}`{suggest(event, known)}")
        for event in dates
        if event not in known
    ]
    if faults:
        raise RulebookFaults(faults)


REAL_DATE = "a day of the calendar; allowed: a date as YYYY-MM-DD, such as 2024-10-01"


def _check_choices(book: Book, choices: Mapping[str, str]) -> None:
    """A choice that no place of the book leaves is a slip of the pen, which would leave the real one open."""
    known = all_choices(book)
    unknown = [name for name in choices if name not in known]
    if unknown:
        raise RulebookFaults(
            Fault(f"choices.{name}", f"no place of this rulebook leaves a choice `{name}`{suggest(name, known)}")
            for name in unknown
        )
