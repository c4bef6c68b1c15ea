"""What names mean where they stand: which facts, calculations, answers and readings a cell or expression may use."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from yokebook.entities import KIND_OF_PREFIX, LISTS, ONE, PREFIX, Kind
from yokebook.load.faults import listed, suggest
from yokebook.model import Fact, FactType, Question, Reading


@dataclass(frozen=True, slots=True)
class Domain:
    """What a number may be."""

    low: Fraction | None = None
    low_open: bool = False
    high: Fraction | None = None
    high_open: bool = False
    whole: bool = False


@dataclass(frozen=True, slots=True)
class Input:
    """Something that a cell may test or an expression take."""

    id: str
    entity: Kind | None  # None: the same for every thing (a reading)
    type: FactType
    unit: str | None
    words: tuple[str, ...]  # of a choice
    domain: Domain = Domain()


@dataclass(slots=True)
class Scope:
    """Everything that has a name in the rulebook."""

    inputs: dict[str, Input] = field(default_factory=dict)  # facts and calculations
    questions: dict[str, Question] = field(default_factory=dict)
    readings: dict[str, Reading] = field(default_factory=dict)
    document_ids: frozenset[str] = frozenset()
    kinds_of_document: frozenset[str] = frozenset()
    values: dict[str, dict[str, str | None]] = field(default_factory=dict)  # document -> value -> unit
    stricter: dict[str, str] = field(default_factory=dict)  # value -> which direction is stricter
    #: calculations by (their entity, an input they take over a list): what to offer when that input cannot be seen
    through_lists: dict[tuple[Kind, str], list[str]] = field(default_factory=dict)
    #: declared, but with a fault of its own: nothing more is said about its uses
    broken: set[str] = field(default_factory=set)

    def add_fact(self, fact: Fact) -> None:
        """Makes a fact known."""
        domain = Domain(fact.low, fact.low_open, fact.high, fact.high_open, fact.whole)
        self.inputs[fact.id] = Input(fact.id, fact.entity, fact.type, fact.unit, tuple(fact.values), domain)

    def find(self, name: str, entity: Kind | None) -> Input | None:
        """The input of this name as a thing of kind `entity` sees it (None: any kind). None if it is declared but at
        fault.

        Raises ValueError: unknown, or not to be seen from there.
        """
        if name in self.broken:
            return None
        found = self._find(name)
        if entity is not None and found.entity is not None and not sees(entity, found.entity):
            raise ValueError(self._unseen(found, entity))
        return found

    def _find(self, name: str) -> Input:
        if name.startswith("answer."):
            return self._answer(name)
        if name.startswith("reading."):
            reading = self.readings.get(name.removeprefix("reading."))
            if reading is None:
                known = [f"reading.{r}" for r in self.readings]
                raise ValueError(f"`{name}` is no reading{suggest(name, known)}; readings: {listed(known)}")
            return Input(name, None, "choice", None, tuple(reading.alternatives))
        found = self.inputs.get(name)
        if found is not None:
            return found
        prefix = name.partition(".")[0]
        if prefix not in KIND_OF_PREFIX:
            hint = suggest(name, self.inputs) or f"; names begin with {listed(KIND_OF_PREFIX)}, `answer` or `reading`"
            raise ValueError(f"`{name}` is no fact or calculation{hint}")
        same = [known for known in self.inputs if known.startswith(f"{prefix}.")]
        raise ValueError(f"`{name}` is no fact or calculation{suggest(name, same) or suggest(name, self.inputs)}")

    def _answer(self, name: str) -> Input:
        question_id = name.removeprefix("answer.")
        if question_id not in self.questions:
            kind, _, rest = question_id.partition(".")
            if rest in self.questions and kind not in self.kinds_of_document:
                raise ValueError(
                    f"`{name}`: `{kind}` is no kind of document{suggest(kind, self.kinds_of_document)}; "
                    f"allowed: {listed(sorted(self.kinds_of_document))}"
                )
            question_id = rest if kind in self.kinds_of_document else question_id
        question = self.questions.get(question_id)
        if question is None:
            raise ValueError(f"`{name}`: there is no question `{question_id}`{suggest(question_id, self.questions)}")
        return Input(name, question.per, "choice", None, tuple(question.outcomes))

    def _unseen(self, found: Input, entity: Kind) -> str:
        assert found.entity is not None
        over = [f"{PREFIX[entity]}.{name}" for name, of in LISTS[entity].items() if of.kind == found.entity]
        text = f"`{found.id}` is of a {found.entity}, and a {entity} may have several of them or none"
        if not over:
            return f"{text}, and has no list of them"
        known = self.through_lists.get((entity, found.id))
        if known:
            return f"{text}; calculations over a list that use it: {listed(known)}"
        return f"{text}; what is missing is a calculation `{PREFIX[entity]}.…` over {listed(over)} that uses it"

    def value_unit(self, name: str, document: str | None) -> str | None:
        """The unit of `value.NAME` in a document (None: in any), None for a plain number. Raises ValueError if no
        edition has it."""
        known: Mapping[str, str | None]
        if document is None:
            known = {value: unit for values in self.values.values() for value, unit in values.items()}
        else:
            known = self.values.get(document, {})
        if name not in known:
            whose = "no edition" if document is None else f"no edition of `{document}`"
            raise ValueError(f"{whose} has a named number `value.{name}`{suggest(name, known)}")
        return known[name]


def sees(entity: Kind, other: Kind) -> bool:
    """Whether a thing of one kind has exactly one of the other, or is one."""
    return entity == other or other in ONE[entity]


def list_named(name: str, entity: Kind) -> Kind:
    """The kind of the items of a list such as `contact.controls`, as a thing of kind `entity` sees it.

    Raises ValueError: unknown, or of something that the thing has not exactly one of.
    """
    prefix, _, rest = name.partition(".")
    owner = KIND_OF_PREFIX.get(prefix)
    if owner is None or rest not in LISTS[owner]:
        lists = [f"{PREFIX[kind]}.{key}" for kind in (entity, *ONE[entity]) for key in LISTS[kind]]
        raise ValueError(f"`{name}` is no list{suggest(name, lists)}; allowed here: {listed(lists, 30)}")
    if not sees(entity, owner):
        raise ValueError(f"`{name}` is of a {owner}, and a {entity} may have several of them or none")
    return LISTS[owner][rest].kind


def units_fit(one: str | None, other: str | None) -> bool:
    """Whether two numbers may stand together: the same unit, watts beside volt-amperes, or amperes or volts beside a
    bare number."""
    return (
        one == other
        or {one, other} == {"W", "VA"}
        or (one is None and other in ("A", "V"))
        or (other is None and one in ("A", "V"))
    )
