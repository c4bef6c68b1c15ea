"""`yokebook rule` and `yokebook explain` on a table: Parquet, or CSV whose columns are named after facts."""

from __future__ import annotations

import argparse
import shutil
import sys
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from yokebook_adapters.command_line.arguments import Parser, Stopped, UsageFault, pair

if TYPE_CHECKING:
    from yokebook_adapters.columns.on_duckdb import Format, Found, Progress, Run
    from yokebook_adapters.command_line.session import Session

#: How the names of tables end; a CSV file is one where no mapping is given.
_PARQUET, _CSV = (".parquet",), (".csv", ".tsv")

#: How the names of outputs end, and the format that each means.
_OUTPUTS: Mapping[str, Format] = {".parquet": "parquet", ".csv": "csv", ".jsonl": "jsonl"}

#: How many different faults are listed; the output's own column has them all.
_FAULTS_LISTED = 200


def add_options(parser: Parser) -> None:
    """Adds the options that only tables take."""
    group = parser.add_argument_group(
        "tables",
        "A Parquet file, or with --question and without --mapping a CSV file, is a table: columns named after facts, "
        "such as contact.supply, make a flat record of each row; other columns are carried along. One question at a "
        "time; --output names a .parquet, .csv or .jsonl file. Needs the extra: pip install 'yokebook[columns]'",
    )
    group.add_argument(
        "--keep", metavar="COLUMN", action="append", default=[], help="keep only this column (again for more)"
    )
    group.add_argument(
        "--column", metavar="FACT=COLUMN", type=pair, action="append", default=[], help="which column gives a fact"
    )
    group.add_argument("--document", metavar="KIND", help="which document to rule by, where several answer")


def no_options(args: argparse.Namespace) -> None:
    """Raises UsageFault where an option that only tables take is given for something else."""
    for name in ("keep", "column", "document"):
        if getattr(args, name):
            raise UsageFault(f"--{name} is for tables: Parquet, or CSV with --question and without --mapping")
    if args.format == "csv":
        raise UsageFault("--format csv is for tables; use text, json, jsonl, sarif, html, pdf or xlsx")


def names_a_table(file: str) -> bool:
    """Whether a file is a table by its name."""
    return file.lower().endswith(_PARQUET + _CSV)


def is_table(args: argparse.Namespace) -> bool:
    """Whether the one file that is to be ruled on is a table; a CSV file among others is a schedule. Raises UsageFault
    for a Parquet file among others."""
    tables = [file for file in args.files if file.lower().endswith(_PARQUET)]
    alone = len(args.files) == 1 and not args.demo
    if tables and not alone:
        raise UsageFault(f"`{tables[0]}` is a table; rule on one table at a time, and on nothing else with it")
    csv = alone and args.files[0].lower().endswith(_CSV) and args.mapping is None and args.question
    return bool(tables or csv)


def run(args: argparse.Namespace) -> int:
    """Rules on every row, writes the table, tells the counts on standard error, and returns the exit status."""
    from yokebook_adapters.command_line.session import Session
    from yokebook_adapters.outcome import SETTLED, worst_status

    if args.mapping or args.sheet or args.all or args.topic or args.full:
        raise UsageFault("a table takes no --mapping, --sheet, --all, --full or --topic; --column maps a column")
    format_ = _format(args)
    session = Session(args)
    with _made(args, session, args.files[0], args.question) as ruling, _progress() as progress:
        ruling.progress = progress
        unknown = [name for name in args.keep if name not in dict(ruling.table.columns)]
        if unknown:
            raise UsageFault(f"--keep: the table has no column `{unknown[0]}`")
        found = _write(ruling, args, format_)
    _tell(found, args.files[0])
    return worst_status({SETTLED, *found.statuses})


def explained(args: argparse.Namespace, session: Session) -> dict[str, Any]:
    """The evaluator's explanation of one row, as it stands in a report."""
    import yokebook
    from yokebook_adapters.building import placed

    if not args.subject.isdecimal():
        raise UsageFault(f"`{args.subject}` is no row of a table; give its number, as in the column `ruling.row`")
    with _made(args, session, args.file, [args.question]) as ruling:
        from yokebook_adapters.columns.on_duckdb import explain_row

        try:
            found, graph = explain_row(ruling, int(args.subject))
        except yokebook.InputFaults as refused:
            raise Stopped(f"row {args.subject} was refused:\n{refused}") from None
        except KeyError as missing:
            raise UsageFault(f"{args.file}: {missing.args[0]}") from None
    return placed(found, graph)


@contextmanager
def _made(args: argparse.Namespace, session: Session, file: str, questions: list[str]) -> Iterator[Run]:
    """A run on a table; what is wrong with its columns, or with what is asked of it, stops the command."""
    import yokebook
    from yokebook_adapters.command_line.session import must_exist

    try:
        from yokebook_adapters.columns.on_duckdb import Run
    except ImportError as lacking:
        raise UsageFault(
            f"tables need the extra: pip install 'yokebook[columns]' (there is no module `{lacking.name}`)"
        ) from None
    must_exist(file)
    asked = [question for name in questions for question in session.question(name)]
    if len(asked) != 1:
        raise UsageFault(f"a table is ruled on one question; --question names {len(asked)}: {_listed(asked)}")
    facts = {column: fact for fact, column in getattr(args, "column", ())}
    document = getattr(args, "document", None)
    code = session.code()
    try:
        code.kind(asked[0].id, document)
        ruling = Run(code, asked[0].id, Path(file), document, facts)
    except yokebook.InputFaults as refused:
        raise Stopped(f"{file} cannot be ruled on:\n{refused}") from None
    except ValueError as fault:
        raise UsageFault(str(fault)) from None
    try:
        yield ruling
    finally:
        ruling.close()


def _listed(questions: list[Any]) -> str:
    return ", ".join(f"`{question.id}`" for question in questions) or "none"


def _format(args: argparse.Namespace) -> Format:
    """The format to write: by the output's name, else as asked."""
    if args.output is not None:
        ending = Path(args.output).suffix.lower()
        if ending not in _OUTPUTS or args.format not in (None, _OUTPUTS[ending]):
            raise UsageFault(f"--output {args.output}: the name ends in .parquet, .csv or .jsonl, which is the format")
        return _OUTPUTS[ending]
    if args.format not in (None, "csv", "jsonl"):
        raise UsageFault(f"--format {args.format}: a table is written as csv or jsonl, or with --output as Parquet")
    return "jsonl" if args.format == "jsonl" else "csv"


def _write(ruling: Run, args: argparse.Namespace, format_: Format) -> Found:
    kept = args.keep or None
    if args.output is None:
        # through a file, so that what goes to a pipe is complete or nothing, in the table's order
        with tempfile.TemporaryDirectory(prefix="yokebook-") as folder:
            made = Path(folder) / "ruled"
            found = ruling.write(made, format_, kept)
            with made.open(encoding="utf-8", newline="") as text:
                shutil.copyfileobj(text, sys.stdout)
        return found
    if Path(args.output).resolve() == Path(args.files[0]).resolve():
        raise UsageFault("--output is the table itself; name another file")
    try:
        Path(args.output).touch()
    except OSError as fault:
        raise UsageFault(f"cannot write `{args.output}`: {fault.strerror}") from None
    return ruling.write(Path(args.output), format_, kept)


@contextmanager
def _progress() -> Iterator[Progress | None]:
    """A bar on standard error, if that is a terminal."""
    if not sys.stderr.isatty():
        yield None
        return
    from tqdm import tqdm

    with tqdm(total=100, bar_format="{desc}: {percentage:3.0f}% {bar} {elapsed}", leave=False, file=sys.stderr) as bar:

        def tell(doing: str, done: float) -> None:
            bar.set_description_str(doing, refresh=False)
            bar.n = round(100 * done)
            bar.refresh()

        yield tell


def _tell(found: Found, file: str) -> None:
    """The counts and what was refused, on standard error."""
    lines = [f"{found.rows:,} rows"]
    lines += [f"{count:>12,} {word}" for word, count in sorted(found.outcomes.items(), key=lambda each: -each[1])]
    settled = found.by["columns"]
    lines.append(
        f"{settled:,} settled by columns, {found.by['evaluator']:,} by the evaluator "
        f"(of {found.ruled_one_by_one:,} kinds), {found.by['front door']:,} refused"
    )
    for fault, (first, count) in list(found.refused.items())[:_FAULTS_LISTED]:
        more = f" and {count - 1:,} more" if count > 1 else ""
        lines.append(f"{file}: row {first}{more}, {fault}")
    if len(found.refused) > _FAULTS_LISTED:
        lines.append(f"and {len(found.refused) - _FAULTS_LISTED:,} more; the column `ruling.faults` has them all")
    sys.stderr.writelines(f"{line}\n" for line in lines)
