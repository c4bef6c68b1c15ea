"""A flat record as a graph: one thing of each kind, linked as the facts given imply."""

from __future__ import annotations

from collections.abc import Iterable

from yokebook.entities import KIND_OF_PREFIX, KINDS, LISTS, PARENT, PREFIX, REFERENCE, Kind
from yokebook.graph import Graph, Thing
from yokebook.intake.entry import Entry, Fields, Member
from yokebook.intake.labels import label_things
from yokebook.intake.thing_reader import NOTHING, check_applies, read_choice, read_date, read_place, state, top_members
from yokebook.intake.value import Reader, Refused, quoted, text_of
from yokebook.intake.vocabulary import Vocabulary
from yokebook.load.faults import Fault, listed, suggest

DATE_PREFIX = "project.date."
CHOICE_PREFIX = "project.choice."

#: A record that names one of these is about a contact device, since a receptacle has at least one.
_MEANS_A_CONTACT: tuple[Kind, ...] = ("contact", "yoke")


def dated_keys(words: Vocabulary) -> list[str]:
    """The keys of a flat record for the dates of events and for what the project chose."""
    dates = [f"{DATE_PREFIX}{event}" for event in words.events]
    return dates + [f"{CHOICE_PREFIX}{choice}" for choice in words.choices]


def no_fact(key: str, known: Iterable[str]) -> str:
    """The message for a key that is none of the known ones."""
    close = suggest(key, known)
    if not close and key.partition(".")[0] not in KIND_OF_PREFIX:
        close = f"; a fact's name starts with one of {listed(f'{prefix}.' for prefix in KIND_OF_PREFIX)}"
    return f"`{key}` is no fact{close}"


class RecordReader:
    """Reads one flat record. `called` is what its source calls it, such as a row's mark."""

    def __init__(
        self, words: Vocabulary, faults: list[Fault], called: str | None = None, *, bare_numbers: bool = True
    ) -> None:
        self.words = words
        self.reader = Reader(faults, bare_numbers=bare_numbers)
        self.called = called
        self.graph = Graph(form="record")
        self.one: dict[Kind, Thing] = {}
        for kind in KINDS:
            thing_id = PREFIX[kind] if called is None else f"{called}/{PREFIX[kind]}"
            self.one[kind] = Thing(kind, thing_id, named=False)
            self.graph.things[kind].append(self.one[kind])
        self.nothing: set[tuple[Kind, str]] = set()  # references said to lead to nothing

    def read(self, record: Entry) -> Graph:
        """The record's graph; what is refused is noted and left out."""
        for member in top_members(record, "record", self.reader):
            self._member(member)
        self._link()
        self._say_who(record)
        check_applies(self.graph, self.words, self.reader)
        called = {} if self.called is None else {self.one["yoke"]: self.called}
        label_things(self.graph, called)
        return self.graph

    def _member(self, member: Member) -> None:
        key, entry = member.key, member.value
        term = self.words.terms.get(key)
        if term is not None:
            thing = self.one[term.kind]
            state(thing, term, entry, self.reader)
            thing.named = thing.named or entry.given
        elif key.startswith(DATE_PREFIX):
            self.graph.dates |= read_date(member, key.removeprefix(DATE_PREFIX), self.words, self.reader)
        elif key.startswith(CHOICE_PREFIX):
            self.graph.choices |= read_choice(member, key.removeprefix(CHOICE_PREFIX), self.words, self.reader)
        elif key == "project.place":
            self.graph.place = read_place(entry, self.words, self.reader)
        elif key in self.words.record_keys:
            self._structural(key, entry)
        else:
            known = [*self.words.record_keys, *dated_keys(self.words)]
            self.reader.faults.append(Fault(member.at, no_fact(key, known)))

    def _structural(self, key: str, entry: Entry) -> None:
        """A `complete`, a reference said to be none, or `stated_by` (read once all facts are known)."""
        prefix, _, rest = key.partition(".")
        if not entry.given or key == "stated_by" or rest == "stated_by":
            return
        thing = self.one[KIND_OF_PREFIX[prefix]]
        thing.named = True
        if rest in REFERENCE.get(thing.kind, {}):
            self._reference(thing, rest, entry)
            return
        complete = self.reader.yes_or_no(key, entry)
        if complete is not None:
            thing.complete[rest.removesuffix(".complete")] = complete

    def _reference(self, thing: Thing, name: str, entry: Entry) -> None:
        full = f"{PREFIX[thing.kind]}.{name}"
        try:
            text = text_of(entry.value)
        except Refused:
            text = ""
        if text == NOTHING:
            self.nothing.add((thing.kind, name))
            return
        what = REFERENCE[thing.kind][name]
        allowed = f"`{NOTHING}`, or leave it out and state facts of the {what}"
        self.reader.refuse(entry.at, full, f"{quoted(entry.value)} is no id here; allowed: {allowed}")

    # ---- links ----

    def _link(self) -> None:
        one = self.one
        self._name_what_is_implied()
        for kind, (parent, parent_list) in PARENT.items():
            one[kind].refs[parent] = one[parent]
            if one[kind].named or not one[parent].named:
                one[parent].many[parent_list] = [one[kind]]
        contact = one["contact"]
        for name, kind in REFERENCE["contact"].items():
            if self._refer("contact", name, kind):
                self._points_back(kind)
        self._refer("yoke", "wall", "wall")
        if ("load", "circuit") in self.nothing:
            one["load"].refs["circuit"] = None
        # so that a record that says nothing of the control can still be asked about it
        if one["control"].named or not contact.complete.get("controls", False):
            contact.many["controls"] = [one["control"]]
        self._points_back("control")
        for thing in self.graph:
            for name, of in LISTS[thing.kind].items():
                if of.flagged:
                    thing.many.setdefault(name, [])

    def _refer(self, kind: Kind, name: str, target: Kind) -> bool:
        """Links a reference to its target if that is named; whether it may lead anywhere."""
        if (kind, name) in self.nothing:
            self.one[kind].refs[name] = None
            return False
        if self.one[target].named:
            self.one[kind].refs[name] = self.one[target]
        return True

    def _points_back(self, kind: Kind) -> None:
        if self.one["contact"].named:
            self.one[kind].many["contacts"] = [self.one["contact"]]

    def _name_what_is_implied(self) -> None:
        one = self.one
        if one["wall"].named:
            one["space"].named = True
        # a control is tied to a room, or to a load plugged in, only by a contact device
        tied = one["control"].named and (one["space"].named or one["load"].named)
        if tied or any(one[kind].named for kind in _MEANS_A_CONTACT):
            for kind in ("contact", "yoke", "space"):
                one[kind].named = True
        one["project"].named = True

    def _say_who(self, record: Entry) -> None:
        if not isinstance(record.value, Fields):
            return
        said = {
            member.key: self.reader.text(member.key, member.value)
            for member in record.value
            if member.key.endswith("stated_by") and member.key in self.words.record_keys
        }
        for kind, thing in self.one.items() if said else ():
            who = said.get(f"{PREFIX[kind]}.stated_by") or said.get("stated_by")
            if who is not None:
                thing.stated_by = dict.fromkeys((*thing.given, *thing.text), who)
