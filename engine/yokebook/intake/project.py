"""A project as a graph: rooms, receptacles and their contact devices nested; controls, circuits and loads by id."""

from __future__ import annotations

from dataclasses import dataclass

from yokebook.entities import LISTS, PARENT, PREFIX, REFERENCE, REFERENCES, Kind
from yokebook.graph import Graph, Thing
from yokebook.intake.entry import Entry, Fields, Member
from yokebook.intake.labels import label_things
from yokebook.intake.thing_reader import (
    NOTHING,
    check_applies,
    items_of,
    members_of,
    read_choice,
    read_date,
    read_place,
    state,
    top_members,
)
from yokebook.intake.value import Reader, quoted
from yokebook.intake.vocabulary import Vocabulary
from yokebook.load.faults import Fault, listed, suggest

#: What the project file has at its top beside the lists of things.
TOP_KEYS = ("project", "complete")
PROJECT_KEYS = ("place", "dates", "choices", "stated_by", "complete")
PROJECT_ID = "project"

#: What a thing of this kind is listed under, and in what; the project's own lists stand at the file's top.
CHILDREN: dict[Kind, dict[str, Kind]] = {}
for _kind, (_parent, _list) in PARENT.items():
    CHILDREN.setdefault(_parent, {})[_list] = _kind

#: Lists that a project file does not write: who stands in them is read off the references of others.
#: (what refers, by which key, which list it makes on the thing referred to)
_INVERSE: tuple[tuple[Kind, str, str], ...] = (
    ("contact", "controls", "contacts"),
    ("contact", "circuit", "contacts"),
    ("contact", "load", "contacts"),
    ("load", "circuit", "wired_loads"),
)

#: Kinds whose ids are parts of paths, and so have no slash.
WITHOUT_SLASH: tuple[Kind, ...] = ("space", "wall", "yoke", "contact")


@dataclass(frozen=True, slots=True)
class _Pending:
    """A reference by id, to be followed once every thing is known."""

    thing: Thing
    key: str
    entry: Entry


class ProjectReader:
    """Reads one project."""

    def __init__(self, words: Vocabulary, faults: list[Fault]) -> None:
        self.words = words
        self.reader = Reader(faults, bare_numbers=False)
        self.graph = Graph(form="project")
        self.project = Thing("project", PROJECT_ID)
        self.graph.things["project"].append(self.project)
        self.places: dict[Thing, Entry] = {self.project: Entry(PROJECT_ID, None)}
        self.own_words: dict[Thing, str] = {}
        self.by_id: dict[tuple[Kind, str], Thing] = {}  # the things that references name
        self.references: list[_Pending] = []
        self.said: dict[Thing, dict[str, bool]] = {}  # what each thing says of its own lists
        self.who: dict[Thing, str] = {}
        self.file_complete = False

    def read(self, top: Entry) -> Graph:
        """The project's graph; what is refused is noted and left out."""
        for member in top_members(top, "project", self.reader):
            self._top(member)
        for pending in self.references:
            self._follow(pending)
        self._invert()
        self._complete()
        self._say_who()
        check_applies(self.graph, self.words, self.reader)
        label_things(self.graph, self.own_words)
        return self.graph

    # ---- reading ----

    def _top(self, member: Member) -> None:
        key, entry = member.key, member.value
        if key == "project":
            for inner in members_of(entry, "project", self.reader):
                self._project_member(inner)
        elif key == "complete":
            self.file_complete = self.reader.yes_or_no("complete", entry) or False
        elif key in CHILDREN["project"]:
            self._children(self.project, key, entry)
        else:
            known = (*TOP_KEYS, *CHILDREN["project"])
            message = f"`{key}` is nothing that a project file has{suggest(key, known)}; allowed: {listed(known)}"
            self.reader.faults.append(Fault(member.at, message))

    def _project_member(self, member: Member) -> None:
        key, entry = member.key, member.value
        if key == "place":
            self.graph.place = read_place(entry, self.words, self.reader)
        elif key == "dates":
            for dated in members_of(entry, "project.dates", self.reader):
                self.graph.dates |= read_date(dated, dated.key, self.words, self.reader)
        elif key == "choices":
            for chosen in members_of(entry, "project.choices", self.reader):
                self.graph.choices |= read_choice(chosen, chosen.key, self.words, self.reader)
        else:
            self._member(self.project, member)

    def _children(self, parent: Thing, key: str, entry: Entry) -> None:
        kind = CHILDREN[parent.kind][key]
        known = parent.many.setdefault(key, [])
        seen = {self.own_words[thing] for thing in known}
        for item in items_of(entry, f"{PREFIX[parent.kind]}.{key}", self.reader):
            thing = self._child(parent, kind, item, seen)
            if thing is not None:
                known.append(thing)

    def _child(self, parent: Thing, kind: Kind, item: Entry, seen: set[str]) -> Thing | None:
        if not isinstance(item.value, Fields):
            self.reader.refuse(item.at, PREFIX[kind], f"found {quoted(item.value)}; allowed: a mapping")
            return None
        own_id = self._id(parent, kind, item, seen)
        thing = Thing(kind, own_id if parent is self.project else f"{parent.id}/{own_id}")
        thing.refs[PARENT[kind][0]] = parent
        self.places[thing] = item
        self.own_words[thing] = own_id
        self.graph.things[kind].append(thing)
        self.by_id[kind, thing.id] = thing
        for member in item.value:
            self._member(thing, member)
        return thing

    def _id(self, parent: Thing, kind: Kind, item: Entry, seen: set[str]) -> str:
        assert isinstance(item.value, Fields)
        entry = item.value.get("id")
        name = f"{PREFIX[kind]}.id"
        if entry is None or not entry.given:
            self.reader.refuse(item.at, name, "the id is missing; allowed: text that no other one beside it has")
            return "?"
        own_id = self.reader.text(name, entry)
        if own_id is None:
            return "?"
        if kind in WITHOUT_SLASH and "/" in own_id:
            self.reader.refuse(entry.at, name, f"`{own_id}` has a slash, which divides a path's parts; leave it out")
        elif own_id == NOTHING:
            self.reader.refuse(entry.at, name, f"`{NOTHING}` is no id, because it says that there is nothing")
        elif own_id in seen:
            inside = "in this project" if parent is self.project else f"in `{parent.id}`"
            self.reader.refuse(entry.at, name, f"`{own_id}` stands twice {inside}; ids of one kind must differ there")
        seen.add(own_id)
        return own_id

    def _member(self, thing: Thing, member: Member) -> None:
        key, entry = member.key, member.value
        term = self.words.keys[thing.kind].get(key)
        prefix = PREFIX[thing.kind]
        if term is not None:
            state(thing, term, entry, self.reader)
        elif key == "complete":
            self._said_complete(thing, entry)
        elif key == "stated_by":
            who = self.reader.text(f"{prefix}.stated_by", entry)
            if who is not None:
                self.who[thing] = who
        elif key == "id" and thing.kind != "project":
            return
        elif thing.kind != "project" and key in CHILDREN.get(thing.kind, {}):
            self._children(thing, key, entry)
        elif key in REFERENCE.get(thing.kind, {}) or key in REFERENCES.get(thing.kind, {}):
            if entry.given:
                self.references.append(_Pending(thing, key, entry))
        else:
            known = self._known(thing.kind)
            close = suggest(key.removeprefix(f"{prefix}."), known) or f"; allowed: {listed(sorted(known), most=100)}"
            self.reader.faults.append(Fault(member.at, f"`{key}` is nothing that a {_word(thing.kind)} has{close}"))

    def _known(self, kind: Kind) -> list[str]:
        structural = PROJECT_KEYS if kind == "project" else ("id", "stated_by", "complete", *CHILDREN.get(kind, {}))
        return [*self.words.keys[kind], *structural, *REFERENCE.get(kind, {}), *REFERENCES.get(kind, {})]

    def _said_complete(self, thing: Thing, entry: Entry) -> None:
        lists = [name for name, of in LISTS[thing.kind].items() if of.flagged]
        said = self.said.setdefault(thing, {})
        name = f"{PREFIX[thing.kind]}.complete"
        if not isinstance(entry.value, Fields):
            flag = self.reader.yes_or_no(name, entry)
            if flag is not None:
                said.update(dict.fromkeys(lists, flag))
            return
        for member in entry.value:
            if member.key not in lists:
                message = f"`{member.key}` is no list here{suggest(member.key, lists)}; allowed: {listed(lists)}"
                self.reader.refuse(member.at, name, message)
                continue
            flag = self.reader.yes_or_no(f"{name}.{member.key}", member.value)
            if flag is not None:
                said[member.key] = flag

    # ---- following references ----

    def _follow(self, pending: _Pending) -> None:
        thing, key, entry = pending.thing, pending.key, pending.entry
        name = f"{PREFIX[thing.kind]}.{key}"
        if key in REFERENCE.get(thing.kind, {}):
            target_id = self.reader.text(name, entry)
            if target_id is None:
                return
            kind = REFERENCE[thing.kind][key]
            target = None if target_id == NOTHING else self._target(thing, kind, target_id, name, entry)
            if target is not None or target_id == NOTHING:
                thing.refs[key] = target
            return
        found = thing.many.setdefault(key, [])
        for item in items_of(entry, name, self.reader):
            if not item.given:
                self.reader.refuse(
                    item.at, name, f"found null; allowed: the id of a {_word(REFERENCES[thing.kind][key])}"
                )
            target_id = self.reader.text(name, item)
            kind = REFERENCES[thing.kind][key]
            target = None if target_id is None else self._target(thing, kind, target_id, name, item)
            if target in found:
                self.reader.refuse(item.at, name, f"`{target_id}` stands twice in this list")
            elif target is not None:
                found.append(target)

    def _target(self, thing: Thing, kind: Kind, target_id: str, name: str, entry: Entry) -> Thing | None:
        """The thing of this kind with this id: in the project, or where the kind stands in something, in the same."""
        parent = PARENT[kind][0]
        owner = None if parent == "project" else thing.one(parent)
        inside = f"{owner.id}/" if isinstance(owner, Thing) else ""
        target = self.by_id.get((kind, f"{inside}{target_id}"))
        if target is not None:
            return target
        ids = [found.id.removeprefix(inside) for found in self.graph.things[kind] if found.id.startswith(inside)]
        whose = f"`{inside[:-1]}`" if inside else "the project"
        known = listed(ids) or f"none, because {whose} lists no {_word(kind)}"
        message = f"no {_word(kind)} has the id `{target_id}`{suggest(target_id, ids)}; allowed: {known}"
        self.reader.refuse(entry.at, name, message)
        return None

    def _invert(self) -> None:
        for kind, key, made in _INVERSE:
            for thing in self.graph.things[kind]:
                reference = thing.refs.get(key)
                for target in thing.many.get(key, []) if reference is None else [reference]:
                    target.many.setdefault(made, []).append(thing)

    # ---- what is complete, and on whose word ----

    def _complete(self) -> None:
        for thing in self.graph:
            said = self.said.get(thing, {})
            for name, of in LISTS[thing.kind].items():
                if of.flagged:
                    thing.many.setdefault(name, [])
                    thing.complete[name] = said.get(name, self.file_complete)
            if thing.kind == "yoke" and thing.complete["contacts"] and not thing.many["contacts"]:
                message = "the list is said to be complete and is empty; a receptacle has at least one contact device"
                self.reader.refuse(self.places[thing].at, "receptacle.contacts", message)

    def _say_who(self) -> None:
        """Whoever a thing names, else whoever the thing names that it stands in, stated its facts."""
        for thing in self.graph:
            here: Thing | None = thing
            while here is not None and here not in self.who:
                here = here.refs.get(PARENT[here.kind][0]) if here.kind in PARENT else None
            if here is not None:
                thing.stated_by = dict.fromkeys((*thing.given, *thing.text), self.who[here])


def _word(kind: Kind) -> str:
    return {"yoke": "receptacle", "contact": "contact device", "space": "room"}.get(kind, kind)
