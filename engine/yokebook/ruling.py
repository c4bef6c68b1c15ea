"""A ruling as data: the word, what it rests on, what is still open and what else is held."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from typing import Any, Literal

from yokebook.decision import Decision, Held, RulingStatus
from yokebook.exploring import Exploration, Leaf, also_held, combinations, explore, live, raw_needs, under
from yokebook.figure_trace import trace_figure
from yokebook.graph import Thing
from yokebook.law import Law
from yokebook.model import CHECK_ORDER, Checked, Question
from yokebook.parts_of_ruling import candidate_data, cite_data, figure_data, rule_data, rule_head, step_data
from yokebook.questions import asked_of, asks_of
from yokebook.session import Outcome, Session, published
from yokebook.support import Support, weaker
from yokebook.trace import RuleTrace
from yokebook.values import known

#: Leaves of one ruling whose reasons are told, by whether it is settled; past it the first ones stand for the rest.
TOLD = {True: 12, False: 4}


@dataclass(frozen=True)
class Ruling:
    """The answer to one question for one thing under one document.

    `to_dict()` gives plain JSON-able data; exact numbers are text such as "2040" or "17/2". Fields as described in
    schemas/ruling.schema.json.
    """

    question: str
    ruling: str
    asks: str
    subject: dict[str, str]
    document: dict[str, Any] | None
    status: RulingStatus
    outcome: str | None
    word: str
    says: str
    against: bool
    idle: bool
    not_checked: bool
    checked: dict[str, Any]
    possible: list[str]
    under: list[dict[str, Any]] = field(default_factory=list)
    also_held: list[dict[str, Any]] = field(default_factory=list)
    ask: list[dict[str, Any]] = field(default_factory=list)
    readings_open: list[dict[str, Any]] = field(default_factory=list)
    readings_chosen: list[dict[str, Any]] = field(default_factory=list)
    standing: list[dict[str, Any]] = field(default_factory=list)
    none_fires: dict[str, Any] | None = None
    through: list[dict[str, Any]] = field(default_factory=list)
    defeated: list[dict[str, Any]] = field(default_factory=list)
    figures: list[dict[str, Any]] = field(default_factory=list)
    possible_is: Literal["exact", "sound", "not decided"] = "exact"
    status_of: dict[str, str] | None = None
    tried: list[dict[str, Any]] | None = None
    would_change: list[dict[str, Any]] | None = None
    sufficient: list[dict[str, Any]] | None = None
    sufficient_is: Literal["smallest", "none can be left out"] | None = None

    def to_dict(self) -> dict[str, Any]:
        """The ruling as JSON-able data; parts that only an explanation holds are left out where they were not asked."""
        data = asdict(self)
        return {k: v for k, v in data.items() if v is not None or k not in EXPLAINED}

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Ruling:
        """The ruling that `to_dict` gave."""
        return cls(**{f.name: data[f.name] for f in fields(cls) if f.name in data})


#: The parts that only an explanation holds.
EXPLAINED = ("tried", "would_change", "sufficient", "sufficient_is")


def rule_on(session: Session, question: Question, thing: Thing, kind: str) -> Ruling:
    """The ruling on one question for one thing under the documents of one kind."""
    found = explore(session, question.id, thing, kind, {})
    return _Maker(session, question, thing, kind, found).make()


def decide_on(session: Session, question: Question, thing: Thing, kind: str, *, weigh: bool) -> Decision:
    """What `rule_on` decides, without the reasons. With `weigh` it is also found whether it rests on what nobody has
    checked in this edition; without, that is taken not to be so."""
    found = explore(session, question.id, thing, kind, {})
    return _Maker(session, question, thing, kind, found).decision(weigh)


@dataclass
class _Maker:
    session: Session
    question: Question
    thing: Thing
    kind: str
    found: Exploration
    _supports: list[Support] = field(default_factory=list)

    def make(self) -> Ruling:
        status, shown, per_readings = self._status()
        outcome = shown[0].word if status == "settled" else None
        held = self._held(status, shown)
        support, traced = self._reasons(status) if status not in ("impossible", "not decided") else ({}, [])
        checked = self._checked(support)
        not_checked = checked["mark"] == "assumed" and status in ("settled", "readings differ")
        open_vars = live(self.found.leaves, False) if status in ("cannot tell", "not decided") else []
        return Ruling(
            question=self.question.id,
            ruling=self.question.ruling,
            asks=self.question.asks,
            subject={"kind": self.thing.kind, "id": self.thing.id, "label": self.thing.label or self.thing.id},
            document=self._document(),
            status=status,
            outcome=outcome,
            word=_word(status, outcome, not_checked),
            says=self.question.outcomes.get(outcome, "") if outcome else _SAYS.get(status, ""),
            against=outcome in self.question.against if outcome else False,
            idle=outcome in self.question.idle if outcome else False,
            not_checked=not_checked,
            checked=checked,
            possible=self._possible(status),
            under=per_readings,
            also_held=held,
            ask=asks_of(self.session, raw_needs(self.found, open_vars)),
            readings_open=self._readings_open(status),
            readings_chosen=self._readings_chosen(),
            standing=[rule_data(rule, self.session) for rule in traced if not rule.beaten_by],
            none_fires=self._none_fires(status, traced),
            through=self._through(),
            defeated=[
                {"rule": r.rule.id, "by": list(r.beaten_by), "says": r.rule.says, "cite": cite_data(r.rule.cite)}
                for r in traced
                if r.beaten_by
            ],
            figures=self._figures(),
            possible_is="not decided" if not self.found.decided else ("exact" if self.found.exact else "sound"),
            status_of=self._status_of(status, shown),
        )

    def decision(self, weigh: bool) -> Decision:
        status, shown, _ = self._status()
        outcome = shown[0].word if status == "settled" else None
        held = self._held(status, shown)
        rules: set[str] = set()
        not_checked = False
        if status not in ("impossible", "not decided"):
            of_others = any(leaf.outcome.table not in ("", self.question.id) for leaf in self.found.leaves)
            if weigh or of_others or self.found.by_word:
                marks, traced = self._reasons(status)
                rules = {rule.rule.id for rule in traced if not rule.beaten_by}
                assumed = any(checked.mark == CHECK_ORDER[0] for checked in marks.values())
                not_checked = assumed and status in ("settled", "readings differ")
            else:
                rules = set(self._standing_everywhere())
                rules = rules or {rule for leaf in self._leaves() for rule in leaf.outcome.standing}
        open_vars = live(self.found.leaves, False) if status in ("cannot tell", "not decided") else []
        return Decision(
            status=status,
            word=_word(status, outcome, not_checked),
            outcome=outcome,
            possible=tuple(self._possible(status)),
            rules=tuple(sorted(rules)),
            ask=asked_of(self.session, raw_needs(self.found, open_vars)),
            readings=tuple(sorted(row["reading"] for row in self._readings_open(status))),
            also_held=tuple(Held(h["reading"], h["alternative"], tuple(h["outcomes"])) for h in held),
            not_checked=not_checked,
        )

    # ---- the word -----------------------------------------------------------------------------------------------

    def _status(self) -> tuple[RulingStatus, list[Outcome], list[dict[str, Any]]]:
        """The word to say, the outcomes it shows, and the outcome under each combination of readings."""
        found = self.found
        if not found.decided:
            return "not decided", [], []
        if not found.leaves:
            return "impossible", [], []
        sets = [
            (readings, outcomes)
            for readings in combinations(found, {r: published(self.session.book, r) for r in found.readings})
            if (outcomes := under(found, readings))
        ]
        table = [{"readings": r, "outcomes": [o.word for o in outcomes]} for r, outcomes in sets]
        everything = _distinct([o for _, outcomes in sets for o in outcomes])
        if len(everything) == 1:
            return SETTLED_AS[everything[0].status], everything, []
        if all(len(outcomes) == 1 for _, outcomes in sets):
            return "readings differ", everything, _shortest(table)
        return "cannot tell", everything, _shortest(table) if len(table) > 1 else []

    def _possible(self, status: RulingStatus) -> list[str]:
        if status == "not decided":
            return list(self.question.outcomes)
        words = dict.fromkeys(leaf.outcome.word for leaf in self.found.leaves)
        order = {word: i for i, word in enumerate(self.question.outcomes)}
        return sorted(words, key=lambda word: (order.get(word, len(order)), word))

    def _status_of(self, status: RulingStatus, shown: list[Outcome]) -> dict[str, str] | None:
        if status == "impossible":
            return {"table": "", "because": self.found.reasons[0] if self.found.reasons else ""}
        faults = [o for o in shown if o.status != "ruled"]
        return {"table": faults[0].table, "because": faults[0].because} if faults else None

    def _held(self, status: RulingStatus, shown: list[Outcome]) -> list[dict[str, Any]]:
        if status in ("impossible", "not decided", "no adoption entered", "none in force"):
            return []
        held = also_held(
            self.session, self.question.id, self.thing, self.kind, self.found, {o.key() for o in shown}
        )
        data = []
        for reading_id, alternative_id, outcomes in held:
            alternative = self.session.book.readings[reading_id].alternatives[alternative_id]
            data.append(
                {
                    "reading": reading_id,
                    "alternative": alternative_id,
                    "says": alternative.says,
                    "holders": alternative.holders,
                    "source": alternative.source,
                    "outcomes": [o.word for o in outcomes],
                }
            )
        return data

    def _readings_open(self, status: RulingStatus) -> list[dict[str, Any]]:
        if status not in ("readings differ", "cannot tell"):
            return []
        data = []
        for var in live(self.found.leaves, True):
            reading = self.session.book.readings[var.name]
            data.append(
                {
                    "reading": reading.id,
                    "asks": reading.asks,
                    "cite": cite_data(reading.cite),
                    "alternatives": [
                        {"id": a.id, "says": a.says, "holders": a.holders, "source": a.source, "standing": a.standing}
                        for a in reading.alternatives.values()
                        if a.id in published(self.session.book, reading.id)
                    ],
                }
            )
        return data

    def _readings_chosen(self) -> list[dict[str, Any]]:
        """The readings that the ruling rests on and that a layer chose: which alternative, and who chose it."""
        chosen = {name: c for support in self._supports for name, c in support.chosen.items()}
        return [
            {
                "reading": name,
                "alternative": c.alternative,
                "says": self.session.book.readings[name].alternatives[c.alternative].says,
                "chosen_by": step_data(c.step),
            }
            for name, c in sorted(chosen.items())
        ]

    def _none_fires(self, status: RulingStatus, traced: list[RuleTrace]) -> dict[str, Any] | None:
        """What the table says where no rule fires, where that is what settled it."""
        if status != "settled" or traced or not self._supports:
            return None
        law = self.found.leaves[0].context.candidate(self.kind)
        assert law is not None and law.law is not None
        row = law.law.ready(self.question.id).table.none_fires
        return {
            "then": row.then,
            "says": row.says,
            "cite": cite_data(row.cite),
            "checked": {"mark": row.checked.mark, "source": row.checked.source},
            "chain": [step_data(step) for step in row.chain],
        }

    def _through(self) -> list[dict[str, Any]]:
        """The lower answers that the ruling goes through, each with the rules that stand there and who made them."""
        found: dict[tuple[str, str], dict[str, Any]] = {}
        for support in self._supports:
            for (subject, question), (law, _, rules) in support.answers.items():
                found.setdefault(
                    (subject, question),
                    {
                        "question": question,
                        "subject": subject,
                        "document": {"id": law.resolved.document.id, "edition": law.resolved.edition, "kind": law.kind},
                        "standing": [rule_head(rule) for rule in rules],
                    },
                )
        return list(found.values())

    # ---- reasons ------------------------------------------------------------------------------------------------

    def _leaves_to_weigh(self, status: RulingStatus) -> list[tuple[Leaf, Law]]:
        """The leaves that the mark is taken from, each with the law that governs it: all where there is an answer, as
        it rests on each in some completion; elsewhere those told of."""
        answered = self.found.single or status == "readings differ"
        weighed: list[tuple[Leaf, Law]] = []
        for leaf in self.found.leaves if answered else self._leaves():
            candidate = leaf.context.candidate(self.kind)
            if candidate is not None and candidate.law is not None and candidate.law.answers(self.question.id):
                weighed.append((leaf, candidate.law))
        return weighed

    def _leaves(self) -> list[Leaf]:
        """One leaf for each set of rules that stands, so that every reason is told once."""
        firsts: dict[tuple[object, ...], Leaf] = {}
        for leaf in self.found.leaves:
            firsts.setdefault((*leaf.outcome.key(), leaf.outcome.standing), leaf)
        return list(firsts.values())[: TOLD[self.found.single]]

    def _reasons(self, status: RulingStatus) -> tuple[dict[tuple[str, str], Checked], list[RuleTrace]]:
        """The marks of all that the ruling rests on, and the rules that fire, standing ones first."""
        marks: dict[tuple[str, str], Checked] = {}
        rules: dict[str, RuleTrace] = {}
        told = {id(leaf) for leaf in self._leaves()}
        enough = self._standing_everywhere()
        self.session.tried = 0  # what is tried to tell reasons has a budget of its own
        for leaf, law in self._leaves_to_weigh(status):
            support = Support(leaf.context)
            rows = support.table(law, self.thing, self.question.id, enough)
            for key, checked in support.marks.items():
                marks[key] = weaker(marks.get(key), checked)
            if id(leaf) not in told:
                continue
            self._supports.append(support)
            for traced in rows:
                before = rules.get(traced.rule.id)
                if enough and not traced.beaten_by and traced.rule.id not in enough:
                    continue  # it stands only where something more is assumed, and adds nothing
                if traced.fires == "yes" and (before is None or (before.beaten_by and not traced.beaten_by)):
                    rules[traced.rule.id] = traced
        return marks, list(rules.values())

    def _standing_everywhere(self) -> frozenset[str]:
        """The rules that stand in every completion of a settled ruling: they give the outcome by themselves."""
        if not self.found.single:
            return frozenset()
        return frozenset.intersection(*(frozenset(leaf.outcome.standing) for leaf in self.found.leaves))

    def _checked(self, marks: Mapping[tuple[str, str], Checked]) -> dict[str, Any]:
        if not marks:
            return {"mark": "seen", "because": []}
        weakest = min((c.mark for c in marks.values()), key=CHECK_ORDER.index)
        because = [
            {"what": name, "mark": c.mark, "source": c.source} for (_, name), c in marks.items() if c.mark == weakest
        ]
        return {"mark": weakest, "because": because}

    def _figures(self) -> list[dict[str, Any]]:
        data: dict[tuple[str, str], dict[str, Any]] = {}
        for support in self._supports:
            for (subject, name), (law, thing, calculation) in support.figures.items():
                traced = trace_figure(support.context, law, thing, calculation)
                if traced is not None:
                    data.setdefault((subject, name), figure_data(traced))
        return list(data.values())

    def _document(self) -> dict[str, Any] | None:
        line = self.session.in_force.get(self.kind)
        if line is None:
            return None
        entries = [candidate_data(candidate) for candidate in line.candidates]
        if len(entries) == 1:
            return {"kind": self.kind, **entries[0]}
        used: dict[str, dict[str, Any]] = {}
        for leaf in self.found.leaves:
            for var, span in leaf.assumed.items():
                if var.kind == "entry" and var.name == self.kind:
                    used.update({e["entry"]: e for e in entries if known(e["entry"]) == span})
        return {"kind": self.kind, **entries[0], "could_be": entries} if used else {"kind": self.kind, **entries[0]}


#: What a ruling is called where every completion gives an outcome of one status.
SETTLED_AS: dict[str, RulingStatus] = {
    "ruled": "settled",
    "conflict": "conflict",
    "silent": "silent",
    "not entered": "no adoption entered",
    "none in force": "none in force",
}

_SAYS: dict[RulingStatus, str] = {
    "readings differ": "published readings of the clause give different answers",
    "cannot tell": "the facts given leave more than one answer possible",
    "conflict": "rules of the table say different things here: a fault of the rulebook",
    "silent": "no rule of the table speaks here: a fault of the rulebook",
    "impossible": "the facts given cannot all be true",
    "no adoption entered": "nobody has entered which edition governs here on this date",
    "none in force": "no document of this kind answers the question here on this date",
    "not decided": "too many possibilities to try; give more facts",
}


def _word(status: RulingStatus, outcome: str | None, not_checked: bool) -> str:
    if outcome is None:
        return status
    return f"would be {outcome}" if not_checked else outcome


def _distinct(outcomes: list[Outcome]) -> list[Outcome]:
    return list({o.key(): o for o in outcomes}.values())


def _shortest(table: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The table without the readings that change nothing in it."""
    names = list(table[0]["readings"]) if table else []
    for name in names:
        rest: dict[tuple[tuple[str, str], ...], list[str]] = {}
        same = True
        for row in table:
            key = tuple((k, v) for k, v in row["readings"].items() if k != name)
            same = same and rest.setdefault(key, row["outcomes"]) == row["outcomes"]
        if same and len(rest) < len(table):
            table = [{"readings": dict(key), "outcomes": outcomes} for key, outcomes in rest.items()]
    return table
