"""`yokebook ask`: an interview about one device, at the terminal or with answers piped in, one a line."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, TextIO

from yokebook_adapters.command_line.arguments import Commands, Edition, Parser, Stopped, UsageFault, add_law

if TYPE_CHECKING:
    from yokebook_adapters.command_line.session import Session
    from yokebook_adapters.interview import Interview
    from yokebook_adapters.outcome import RulingData


def add(commands: Commands) -> None:
    """Adds the command."""
    parser: Parser = commands.add_parser(
        "ask",
        help="an interview about one device",
        description="Asks only facts that can still matter and stops as soon as the outcome cannot change. Answer a "
        "choice by its number or word; a blank line or ? means that you do not know. Answers may be piped in, one a "
        "line; where they end, the ruling so far is given.",
    )
    parser.add_argument("question", metavar="QUESTION", nargs="?", help="the question, by id or ruling number")
    parser.add_argument("--document", metavar="DOCUMENT", help="which document, where several answer")
    parser.add_argument("--format", choices=["text", "json"], default="text", help="default: text")
    add_law(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Holds the interview on standard error and input; prints the ruling and returns its exit status."""
    from yokebook_adapters.as_json import as_json
    from yokebook_adapters.building import names
    from yokebook_adapters.command_line.session import Session
    from yokebook_adapters.command_line.terminal import width
    from yokebook_adapters.explain_text import render_explanation
    from yokebook_adapters.finding_text import headline
    from yokebook_adapters.one_record import called
    from yokebook_adapters.report import Report

    session = Session(args)
    dialogue = Dialogue(sys.stdin, sys.stderr, width())
    interview = hold(session, dialogue, args.question, args.document)
    ruling = {**interview.ruling, "room": "", "at": None, "ask": interview.asks()}
    if args.format == "text":
        ruling["subject"] = {**ruling["subject"], "label": called(ruling["subject"]["label"])}
    place = session.book.places[session.place].name if session.place else ""
    dates = {"every event": session.on} if session.on else interview.dates
    report = Report("interview", place=place, dates=dates, rulings=[ruling], **names(session.book))
    sys.stdout.write(render_explanation(report, width()) if args.format == "text" else as_json([report]))
    if sys.stdout.isatty() and args.format == "text":  # the cautions fill a small screen
        sys.stdout.flush()
        dialogue.say("")
        dialogue.say(f"Answer: {headline(ruling)}")
    return report.exit_status()


class Ended(Exception):
    """There are no more answers."""


class Dialogue:
    """Asks on one stream and reads answers from another."""

    def __init__(self, answers: TextIO, questions: TextIO, columns: int) -> None:
        self.answers = answers
        self.questions = questions
        self.columns = columns

    def say(self, text: str, indent: int = 0) -> None:
        """Prints one paragraph."""
        from yokebook_adapters.lines import wrap

        print("\n".join(wrap(text, self.columns, indent)), file=self.questions)

    def read(self, prompt: str) -> str:
        """The next answer. Raises Ended where there is none."""
        print(f"  {prompt} ", end="", file=self.questions, flush=True)
        line = self.answers.readline()
        if not self.answers.isatty():
            print(line.rstrip("\n"), file=self.questions)  # a terminal shows what is typed; a pipe does not
        if not line:
            raise Ended
        return line.rstrip("\n")

    def choose(self, values: Sequence[tuple[str, str]]) -> None:
        """Prints numbered choices."""
        for number, (word, says) in enumerate(values, start=1):
            self.say(f"{number}. {word}" + (f" - {says}" if says and says != word else ""), indent=4)

    def pick(self, asks: str, values: Sequence[tuple[str, str]], ids: Mapping[str, str] | None = None) -> str:
        """One of the values, asked until it is understood; `ids` are other words for them. Raises Ended."""
        from yokebook_adapters.interview import NotUnderstood, understood

        self.say(asks)
        self.choose(values)
        while True:
            try:
                text = self.read("Number or word:").strip()
                return str(understood({"values": dict(values), "kind": "fact"}, (ids or {}).get(text, text)))
            except NotUnderstood as fault:
                self.say(str(fault), indent=2)


def hold(session: Session, dialogue: Dialogue, question: str | None, document: str | None) -> Interview:
    """Holds the whole interview, place and question first where they are not given; returns it with its ruling."""
    from yokebook_adapters.interview import Interview

    try:
        if session.place is None and session.edition is None:
            _choose_law(session, dialogue)
        code = session.code()
        if question is None:
            questions = code.questions()
            rulings = {q.id: q.ruling for q in questions}
            question = dialogue.pick("Which question?", [(q.ruling, q.asks) for q in questions], rulings)
        kinds = [(q.id, kind) for q in session.question(question) for kind in session.kinds(code, q.id, document)]
        if not kinds:
            raise UsageFault(f"no document in force answers `{question}`")
        wanted = kinds[0]
        if len(kinds) > 1:
            answers = [(f"{q} by the {kind} document", session.book.questions[q].asks) for q, kind in kinds]
            wanted = kinds[[name for name, _ in answers].index(dialogue.pick("Which of these?", answers))]
    except Ended:
        raise Stopped("the answers ended before a place and a question were chosen") from None
    interview = Interview(
        _rule_with(session, *wanted), _count_with(session), dates=dict(session.dates), choices=dict(session.choices)
    )
    _interview(interview, dialogue)
    return interview


#: The choice for somebody whose place has not been entered.
_ELSEWHERE = "another place"


def _choose_law(session: Session, dialogue: Dialogue) -> None:
    """Lets a person choose a place, or a bare edition where the place is not entered."""
    places = [(p.id, p.name) for p in sorted(session.book.places.values(), key=lambda p: p.id)]
    dated = session.on or session.dates or session.choices
    if not dated:
        places.append((_ELSEWHERE, "by a bare edition of a code, without local amendments"))
    picked = dialogue.pick("Which place?", places)
    if dated or picked != _ELSEWHERE:
        session.place = picked
        return
    editions = [
        (f"{document.id}:{edition}", f"{document.title}, {edition} edition")
        for document in sorted(session.book.documents.values(), key=lambda document: document.kind)
        for edition in document.editions
    ]
    chosen = dialogue.pick("Which edition is in force where you work?", editions)
    session.edition = Edition(*chosen.split(":"))


def _rule_with(session: Session, question: str, kind: str) -> Any:
    import yokebook
    from yokebook_adapters.interview import NotUnderstood

    def rule(record: Mapping[str, Any], dates: Mapping[str, str], choices: Mapping[str, str]) -> RulingData:
        try:
            return session.code(None, dates, choices).rule(question, record, kind).to_dict()
        except yokebook.InputFaults as refused:
            raise NotUnderstood("; ".join(fault.message for fault in refused.faults)) from None
        except UsageFault as refused:
            raise NotUnderstood(str(refused)) from None

    return rule


def _count_with(session: Session) -> Callable[[Mapping[str, Any], str], int]:
    from yokebook.entities import KIND_OF_PREFIX
    from yokebook.front_door import FrontDoor

    door = FrontDoor(session.book)

    def count(record: Mapping[str, Any], fact: str) -> int:
        prefix, name, _ = fact.split(".")
        things = door.record(record).things[KIND_OF_PREFIX[prefix]]
        return len(things[0].list_of(name)[0])

    return count


def _interview(interview: Interview, dialogue: Dialogue) -> None:
    from yokebook_adapters.lines import in_words

    possible = list(interview.ruling["possible"])
    dialogue.say(interview.ruling["asks"])
    if len(possible) > 1:
        dialogue.say(f"Possible: {in_words(possible, 'or')}.", indent=2)
    try:
        while (ask := interview.next()) is not None:
            _put(ask, interview, dialogue)
            if list(interview.ruling["possible"]) != possible:
                possible = list(interview.ruling["possible"])
                if len(possible) > 1:
                    dialogue.say(f"Still possible: {in_words(possible, 'or')}.", indent=2)
    except Ended:
        dialogue.say("No more answers; this is the ruling so far.")
    else:
        settled = not interview.ruling["ask"]
        dialogue.say("Nothing more can change it." if settled else "Nothing is left that you might know.")
    dialogue.say("")


def _put(ask: Mapping[str, Any], interview: Interview, dialogue: Dialogue) -> None:
    """Puts one question until the answer is understood."""
    from yokebook_adapters.interview import NotUnderstood, choices_of

    dialogue.say(f"{interview.asked + 1}. {ask['asks']}")
    if ask["look"]:
        dialogue.say(f"Look: {ask['look']}", indent=3)
    dialogue.choose(choices_of(ask))
    while True:
        text = dialogue.read(_prompt(ask))
        try:
            interview.answer(ask, text)
            return
        except NotUnderstood as fault:
            dialogue.say(str(fault), indent=3)


def _prompt(ask: Mapping[str, Any]) -> str:
    from yokebook_adapters.interview import choices_of, is_yes_no

    if choices_of(ask):
        what = "Number or word"
    elif is_yes_no(ask):
        what = "yes or no"
    elif ask["type"] == "date":
        what = "Date, such as 2024-10-15"
    else:
        what = f"Number, in {ask['unit']} or with another unit" if ask["unit"] else "Number"
    return f"{what} (blank or ? = not known):"
