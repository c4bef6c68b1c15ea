"""Where the receptacles of one room are, what they reach and how far controlled ones are, as the rulings have it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from yokebook import list_figures
from yokebook.covering import Covered, Parts, Stretch
from yokebook.deciding import Context
from yokebook.exploring import explore
from yokebook.figures import valuer
from yokebook.graph import Thing
from yokebook.law import Law
from yokebook.model import Calculation, Nearest, Question, Uncovered
from yokebook.places_apart import Placed
from yokebook.reach import names_in_rule, names_reached
from yokebook.session import LowerFault, OverBudget, Session
from yokebook.units import format_feet
from yokebook.values import Split, hull
from yokebook.walking import Taken, walk
from yokebook_adapters.finding_text import headline
from yokebook_adapters.outcome import RulingData

#: Facts that say where a device is (see rulebook/facts/receptacle-position.yaml and wall.yaml).
_ALONG, _X, _Y, _LENGTH = "receptacle.position_in", "receptacle.x_in", "receptacle.y_in", "wall.length_in"


@dataclass(frozen=True)
class Spot:
    """A device on a wall or on the plan: `name` as on the plan, the halves that are controlled, where it is."""

    name: str
    controlled: tuple[str, ...]
    halves: int
    x: Fraction
    y: Fraction = Fraction(0)


@dataclass(frozen=True)
class Reach:
    """From where to where a device reaches along its wall; `exact`: it may reach no further."""

    name: str
    low: Fraction
    high: Fraction
    exact: bool


@dataclass(frozen=True)
class Wall:
    """One wall: its length, the devices on it, what they reach, what is surely and what is maybe out of reach, and the
    rulings on it; `reach_known` is False where no ruling measured it or too much is open."""

    name: str
    length: Fraction
    spots: tuple[Spot, ...]
    reaches: tuple[Reach, ...]
    sure: Parts
    maybe: Parts
    reach_known: bool
    ruled: tuple[str, ...]


@dataclass(frozen=True)
class Distance:
    """From an uncontrolled contact device to the nearest controlled one: whose, how far in words, and to which device
    where that is known."""

    of: str
    half: str
    text: str
    to: str | None


@dataclass(frozen=True)
class Plan:
    """One room: its walls, the devices that have a place on the plan, the distances, the rulings on the room that rest
    on these, and the devices of which no place is given."""

    room: str
    walls: tuple[Wall, ...]
    spots: tuple[Spot, ...]
    distances: tuple[Distance, ...]
    ruled: tuple[str, ...]
    nowhere: tuple[str, ...]

    def __bool__(self) -> bool:
        """Whether there is anything to draw."""
        return bool(self.walls or self.spots)


def measuring(session: Session) -> list[Question]:
    """The questions on rooms and walls whose tables, in the law in force, turn on a length or distance measured."""
    book = session.book
    measures = {c.id for c in book.calculations.values() if isinstance(c.expression, Uncovered | Nearest)}
    laws = [c.law for line in session.in_force.values() for c in line.candidates if c.law is not None]
    found = []
    for question in book.questions.values():
        tables = [law.resolved.tables[question.id] for law in laws if law.answers(question.id)]
        names = {name for table in tables for rule in table.rules for name in names_in_rule(rule)}
        if question.per in ("space", "wall") and measures & names_reached(names, book):
            found.append(question)
    return found


def plan_of(space: Thing, rulings: Sequence[RulingData], session: Session) -> Plan:
    """The plan of one room, from the facts given and the rulings made in `session`."""
    yokes = space.list_of("yokes")[0]
    walls = [wall for wall in space.list_of("walls")[0] if _number(wall, _LENGTH) is not None]
    on_walls = [yoke for wall in walls for yoke in wall.list_of("yokes")[0] if _number(yoke, _ALONG) is not None]
    spots = [spot for yoke in yokes if yoke not in on_walls and (spot := _on_the_plan(yoke)) is not None]
    placed = {yoke.id for yoke in on_walls} | {yoke.id for yoke in yokes if _on_the_plan(yoke) is not None}
    maker = _Maker(rulings, session)
    return Plan(
        room=space.label or space.id,
        walls=tuple(maker.wall(wall) for wall in walls),
        spots=tuple(spots),
        distances=tuple(maker.distances(space)),
        ruled=tuple(maker.ruled_by_distance(space)),
        nowhere=tuple(_name(yoke) for yoke in yokes if yoke.id not in placed),
    )


def _number(thing: Thing, fact: str) -> Fraction | None:
    value = thing.given.get(fact)
    return value if isinstance(value, Fraction) else None


def _name(thing: Thing) -> str:
    return thing.id.rpartition("/")[2]


def _spot(yoke: Thing, x: Fraction, y: Fraction = Fraction(0)) -> Spot:
    contacts = yoke.list_of("contacts")[0]
    controlled = [_half(contact) for contact in contacts if contact.given.get("contact.supply") == "controlled"]
    return Spot(_name(yoke), tuple(controlled), len(contacts), x, y)


def _half(contact: Thing) -> str:
    return str(contact.given.get("contact.position", _name(contact)))


def _on_the_plan(yoke: Thing) -> Spot | None:
    x, y = _number(yoke, _X), _number(yoke, _Y)
    return None if x is None or y is None else _spot(yoke, x, y)


@dataclass(frozen=True)
class _Measured:
    """A figure of a ruling, with what it takes to look up what it was made of."""

    law: Law
    calculation: Calculation
    text: str
    ruling: RulingData


class _Maker:
    """Looks up again what the rulings measured: under which law, by which calculation."""

    def __init__(self, rulings: Sequence[RulingData], session: Session) -> None:
        self.session = session
        self.rulings = rulings
        self.things = {(thing.kind, thing.id): thing for thing in session.graph}
        #: by thing and kind of expression: the first figure of that kind in the rulings
        self.measured: dict[tuple[str, type], _Measured] = {}
        for ruling in rulings:
            law = self._law(ruling)
            for figure in ruling["figures"] if law is not None else ():
                calculation = session.book.calculations[figure["calculation"]]
                key = (figure["subject"], type(calculation.expression))
                if law is not None:
                    self.measured.setdefault(key, _Measured(law, calculation, str(figure["value"]), ruling))

    def _law(self, ruling: RulingData) -> Law | None:
        line = self.session.in_force.get(ruling["document"]["kind"]) if ruling["document"] else None
        return line.candidates[0].law if line is not None and len(line.candidates) == 1 else None

    def _context(self, measured: _Measured) -> Context:
        """What the figure was worked out in: nothing assumed but how clauses are read, where that settles nothing."""
        subject = measured.ruling["subject"]
        thing = self.things[subject["kind"], subject["id"]]
        found = explore(self.session, measured.ruling["question"], thing, measured.law.kind, {})
        if found.single and all(var.kind == "reading" for var in found.leaves[0].assumed):
            return found.leaves[0].context
        return Context(self.session, {}, {}, set())

    def wall(self, wall: Thing) -> Wall:
        """One wall with what its devices reach."""
        length = _number(wall, _LENGTH)
        assert length is not None
        yokes = [(yoke, at) for yoke in wall.list_of("yokes")[0] if (at := _number(yoke, _ALONG)) is not None]
        stretch = self._stretch(wall)
        reaches = [each for item in stretch.covered if (each := _reach(item, length)) is not None] if stretch else []
        return Wall(
            name=wall.text.get("wall.name") or _name(wall),
            length=length,
            spots=tuple(_spot(yoke, at) for yoke, at in yokes),
            reaches=tuple(reaches),
            sure=stretch.surely_uncovered() if stretch else [],
            maybe=stretch.maybe_uncovered(length) if stretch else [],
            reach_known=stretch is not None,
            ruled=tuple(self._ruled(wall, Uncovered)),
        )

    def _stretch(self, wall: Thing) -> Stretch | None:
        measured = self.measured.get((wall.id, Uncovered))
        if measured is None:
            return None
        law, expression = measured.law, measured.calculation.expression
        assert isinstance(expression, Uncovered)
        try:
            value = valuer(law, measured.calculation)
            return list_figures.stretch_of(self._context(measured), law, wall, expression, value)
        except (Split, LowerFault, OverBudget):
            return None

    def _ruled(self, thing: Thing, measured: type) -> Iterator[str]:
        """The rulings on a thing that rest on what was measured."""
        said: dict[str, None] = {}
        for ruling in self.rulings:
            kinds = {type(self.session.book.calculations[f["calculation"]].expression) for f in ruling["figures"]}
            if ruling["subject"]["id"] == thing.id and measured in kinds:
                said[headline(ruling)] = None
        yield from said

    def ruled_by_distance(self, space: Thing) -> Iterator[str]:
        """The rulings on the room that rest on distances."""
        return self._ruled(space, Nearest)

    def distances(self, space: Thing) -> Iterator[Distance]:
        """The distance of each contact device of the room that a ruling measured it for and that is not controlled."""
        for contact in space.list_of("contacts")[0]:
            measured, yoke = self.measured.get((contact.id, Nearest)), contact.refs.get("yoke")
            controlled = contact.given.get("contact.supply") == "controlled"
            if measured is not None and yoke is not None and not controlled:
                yield Distance(_name(yoke), _half(contact), measured.text, self._to(contact, measured))

    def _to(self, contact: Thing, measured: _Measured) -> str | None:
        """The device that the nearest controlled contact device is on; None where that is not known."""
        law, expression = measured.law, measured.calculation.expression
        assert isinstance(expression, Nearest)
        value = valuer(law, measured.calculation)

        def distance(inner: Context, item: Thing) -> Taken:
            return None if item is contact else (here.distance_to(Placed(inner, item, expression, value)),)

        try:
            context = self._context(measured)
            here = Placed(context, contact, expression, value)
            walked = walk(context, law, contact, expression, distance)
        except (Split, LowerFault, OverBudget):
            return None
        lengths: list[tuple[Fraction, int, Thing]] = []
        for item, ways in walked.items if walked is not None else ():
            if ways is None or len(ways) > 1:
                return None  # it may be nearer, or left out
            span = hull(ways[0][0].span) if ways and ways[0] is not None else None
            if span is not None:
                lengths.append((span.low or Fraction(0), len(lengths), item))
        yoke = min(lengths)[2].refs.get("yoke") if lengths else None
        return None if yoke is None else _name(yoke)


def _reach(item: Covered, length: Fraction) -> Reach | None:
    """What a device surely reaches of the wall; None where it may reach nothing."""
    if item.sure is None:
        return None
    low, high = max(Fraction(0), item.sure[0]), min(length, item.sure[1])
    return Reach(_name(item.item), low, high, item.exact) if low <= high else None


def parts_in_words(parts: Parts) -> str:
    """Parts of a wall in feet and inches."""
    return " and ".join(f"{format_feet(start)} to {format_feet(end)}" for start, end in parts)


def lengths_of(parts: Parts) -> Fraction:
    """What parts of a wall come to together."""
    return sum((end - start for start, end in parts), Fraction(0))


