"""What the commands share once they run: the rulebook, the law asked for, projects read and ruled on."""

from __future__ import annotations

import argparse
import io
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import yokebook
from yokebook.load.faults import listed, suggest
from yokebook.model import At, Book, Question
from yokebook.overview import all_events, questions_named
from yokebook_adapters.command_line.arguments import Edition, Stopped, UsageFault, needs_extra
from yokebook_adapters.command_line.terminal import Progress

if TYPE_CHECKING:
    from yokebook.code import Code
    from yokebook.graph import Graph
    from yokebook.sheet import Sheet
    from yokebook_adapters.schedule_sources import Schedule

#: What standard input is called in messages and outputs.
STDIN = "-"


def demo_file() -> str:
    """The shipped demo building."""
    return str(Path(__file__).parents[1] / "demo" / "brindle-falls.yaml")


@contextmanager
def stopping() -> Iterator[None]:
    """Turns faults of the rulebook, or of what was asked of it, into a stop with every fault in the message.

    A fault with a place in a file is the rulebook's; one without is that of an option.
    """
    try:
        yield
    except yokebook.RulebookFaults as faulty:
        text = "\n".join(str(fault) for fault in faulty.faults)
        if any(isinstance(fault.at, At) for fault in faulty.faults):
            raise Stopped(f"the rulebook cannot be used:\n{text}") from None
        raise UsageFault("\n".join(_of_option(fault) for fault in faulty.faults)) from None


#: The option that gives what a fault of the law asked for names.
_OPTIONS = {
    "place": "--place",
    "on": "--on",
    "dates": "--date",
    "choices": "--choice",
    "document": "--edition",
    "edition": "--edition",
}


def _of_option(fault: yokebook.Fault) -> str:
    """The fault with the option that it is of in front, such as `--date permit application`."""
    field, _, name = str(fault.at).partition(".")
    option = _OPTIONS.get(field)
    return str(fault) if option is None else f"{option}{f' {name}' if name else ''}: {fault.message}"


def load_rulebook(folder: str | None) -> yokebook.Rulebook:
    """The rulebook in the folder that `--rulebook` names, or the shipped one. Raises Stopped where it has faults."""
    if folder is not None and not Path(folder).is_dir():
        raise UsageFault(f"no folder `{folder}`; --rulebook takes a folder with a rulebook in it")
    with stopping():
        return yokebook.load(folder)


class Session:
    """One run of one command: the rulebook, and what the options say about the law."""

    def __init__(self, args: argparse.Namespace) -> None:
        self.rulebook = load_rulebook(args.rulebook)
        self.book: Book = self.rulebook.book
        self.place: str | None = getattr(args, "place", None)
        self.on: str | None = getattr(args, "on", None)
        self.dates: dict[str, str] = dict(getattr(args, "date", ()))
        self.choices: dict[str, str] = dict(getattr(args, "choice", ()))
        self.edition: Edition | None = getattr(args, "edition", None)
        if self.edition and (self.place or self.on or self.dates or self.choices):
            raise UsageFault("--edition rules by a bare edition; leave out --place, --on, --date and --choice")
        self._check_events()

    def _check_events(self) -> None:
        events = all_events(self.book)
        for event in self.dates:
            if event not in events:
                known = listed(events) or "none, because no place's law turns on one"
                raise UsageFault(f"--date {event}: `{event}` is no event{suggest(event, events)}; allowed: {known}")

    # ---- the law --------------------------------------------------------------------------------------------------

    def code(
        self, place: str | None = None, dates: Mapping[str, str] | None = None, choices: Mapping[str, str] | None = None
    ) -> Code:
        """The law that the options ask for; what they leave out comes from the arguments, a project's own.

        Raises Stopped: no place at all, an unknown place or edition, a rulebook at fault.
        """
        with stopping():
            if self.edition:
                return self.rulebook.edition(self.edition.document, self.edition.edition)
            where = self.place or place
            if where is None:
                raise UsageFault("no place given; give --place, or --edition for a bare edition")
            all_dates = {} if self.on else {**(dates or {})}
            return self.rulebook.in_force(
                where,
                dates={**all_dates, **self.dates},
                on=self.on,
                choices={**(choices or {}), **self.choices},
            )

    def question(self, name: str) -> list[Question]:
        """The questions with this id or ruling number. Raises UsageFault for none."""
        found = questions_named(self.book, name)
        if not found:
            known = [*self.book.questions, *(q.ruling for q in self.book.questions.values())]
            raise UsageFault(f"there is no question `{name}`{suggest(name, known)}")
        return found

    def kinds(self, code: Code, question: str, document: str | None) -> list[str]:
        """The kinds of document in force that answer a question; with `document`, a kind or the id of a document of
        one, only that kind. Raises UsageFault where that one does not answer."""
        kinds = code.kinds_for(question)
        if document is None:
            return kinds
        found = [kind for kind in kinds if document in self._names(kind)]
        if not found:
            allowed = listed(kinds) or "none"
            raise UsageFault(f"--document: `{document}` does not answer `{question}` here; allowed: {allowed}")
        return found

    def _names(self, kind: str) -> list[str]:
        return [kind, *(document.id for document in self.book.documents.values() if document.kind == kind)]

    # ---- projects ---------------------------------------------------------------------------------------------------

    def project(self, file: str) -> Graph:
        """The graph of a project file; `-` is standard input. Raises InputFaults, and UsageFault for no file."""
        from yokebook import front_door

        if file == STDIN:
            return front_door.read_project(sys.stdin.buffer.read(), self.book, STDIN)
        must_exist(file)
        return front_door.read_project(Path(file), self.book)

    def topics(self, names: Sequence[str]) -> list[str]:
        """Topics of questions, as they are asked for. Raises UsageFault for one that no question has."""
        known = dict.fromkeys(q.topic for q in self.book.questions.values() if q.topic)
        for name in names:
            if name != "all" and name not in known:
                allowed = listed([*known, "all"])
                raise UsageFault(f"--topic: no topic `{name}`{suggest(name, known)}; there are {allowed}")
        return list(names)

    def sheets(
        self, file: str, mapping: str | None, questions: Sequence[str], topics: Sequence[str] = ()
    ) -> tuple[list[Sheet], list[str]]:
        """The rulings on one file, and the faults for which parts of it were refused.

        A project file gives one sheet; a schedule, which `mapping` says how to read, one or one a row.
        """
        wanted = [q.id for name in questions for q in self.question(name)] or None
        sheets: list[Sheet] = []
        graphs, faults = self._graphs(file, mapping)
        nowhere = [called for called, graph in graphs if not (self.edition or self.place or graph.place)]
        asked = [(called, graph) for called, graph in graphs if called not in nowhere]
        with Progress(f"ruling on {Path(file).name}") as progress:
            for number, (called, graph) in enumerate(asked):
                try:
                    code = self.code(graph.place, graph.dates, graph.choices)
                    sheets.append(code.rule_project(graph, wanted, topics, partial(progress.part, number, len(asked))))
                except yokebook.InputFaults as refused:  # what is stated and what comes out differ
                    faults.extend(str(fault) for fault in refused.faults)
                except UsageFault:
                    raise
                except Stopped as stopped:  # this place's law is at fault; another's need not be
                    faults.append(f"{file}: nothing was ruled on {_named(called, file)}, because {stopped}")
        if nowhere:
            faults.append(_no_place(file, nowhere, mapping))
        if file == STDIN:
            here = f"{STDIN}:"
            faults = [f"standard input:{f.removeprefix(here)}" if f.startswith(here) else f for f in faults]
        return sheets, faults

    def _graphs(self, file: str, mapping: str | None) -> tuple[list[tuple[str, Graph]], list[str]]:
        try:
            if mapping is None and file.lower().endswith((".csv", ".xlsx", ".xlsm")):
                raise UsageFault(f"`{file}` is a schedule; --mapping names the file that says what its columns mean")
            if mapping is None:
                return [(file, self.project(file))], []
            graphs, faults = self._schedule(file, mapping)
            return graphs, [str(fault) for fault in faults]
        except yokebook.InputFaults as refused:
            return [], [str(fault) for fault in refused.faults]

    def _schedule(self, file: str, mapping: str) -> tuple[list[tuple[str, Graph]], list[yokebook.Fault]]:
        from yokebook_adapters.schedule_mapping import read_mapping
        from yokebook_adapters.schedule_reading import read_schedule

        must_exist(mapping)
        how = read_mapping(Path(mapping), self.book)
        notes: list[str] = []
        try:
            if file == STDIN:
                return read_schedule(_stdin(), how, self.book, STDIN, notes)
            must_exist(file)
            return read_schedule(Path(file), how, self.book, notes=notes)
        except ModuleNotFoundError as missing:
            raise needs_extra(missing) from None
        finally:
            sys.stderr.writelines(f"yokebook: note: {note}\n" for note in notes)


def _stdin() -> Schedule:
    """A schedule on standard input: a workbook whole, CSV line by line."""
    from yokebook_adapters.schedule_sources import LARGEST_WORKBOOK, ZIPPED

    stream = io.BufferedReader(sys.stdin.buffer)  # type: ignore[type-var]
    if stream.peek(len(ZIPPED)).startswith(ZIPPED):
        return stream.read(LARGEST_WORKBOOK + 1)
    return io.TextIOWrapper(stream, "utf-8", "surrogateescape", "")


def _named(called: str, file: str) -> str:
    return "it" if called in (file, "project") else f"`{called}`"


def _no_place(file: str, called: Sequence[str], mapping: str | None) -> str:
    rows = "" if called[0] in (file, "project") else f" for {listed(called)}"
    where = "the project" if mapping is None else f"the constants or the project of {mapping}"
    return f"{file}: no place is given{rows}; add one to {where}, or give --place or --edition"


def must_exist(file: str) -> None:
    """Raises UsageFault where the file cannot be read at all."""
    path = Path(file)
    if path.is_dir():
        raise UsageFault(f"`{file}` is a folder; give a file")
    if not path.exists():
        raise UsageFault(f"there is no file `{file}`")
