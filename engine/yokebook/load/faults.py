"""Faults: what is wrong in a file or a record, and where. Everything that reads input collects them and raises once."""

from __future__ import annotations

from collections.abc import Iterable

from yokebook.frozen import dataclass
from yokebook.model import At


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong: where (a place in a file, or a field of a record), what was found, what is allowed."""

    at: At | str
    message: str

    def __str__(self) -> str:
        return f"{self.at}: {self.message}"


def sort_key(fault: Fault) -> tuple[str, int, int, str]:
    """A key that puts faults in the order of files, lines and columns."""
    if isinstance(fault.at, At):
        return (fault.at.file, fault.at.line, fault.at.column, fault.message)
    return (fault.at, 0, 0, fault.message)


class Faulty(Exception):
    """Input with at least one fault. `faults` holds all of them; `str()` gives one line for each."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults: tuple[Fault, ...] = tuple(sorted(faults, key=sort_key))
        super().__init__("\n".join(str(fault) for fault in self.faults))


class RulebookFaults(Faulty):
    """A rulebook that does not load, or does not resolve."""


class InputFaults(Faulty):
    """A record, project, schedule or mapping that is refused."""


#: Fewer letters than these begin too many words to tell which one is meant.
_A_START = 4


def suggest(word: str, known: Iterable[str]) -> str:
    """` (did you mean …?)` if `known` holds something close to `word`, else an empty string."""
    choices = list(known)
    close = [choice for choice in choices if choice.casefold() == word.casefold()][:1]
    if not close and len(word) >= _A_START:
        close = sorted((choice for choice in choices if choice.casefold().startswith(word.casefold())), key=len)[:1]
    if not close:
        from difflib import get_close_matches  # only here: most input has no slip

        close = get_close_matches(word, choices, n=1, cutoff=0.6)
    return f" (did you mean `{close[0]}`?)" if close else ""


def listed(words: Iterable[str], most: int = 12) -> str:
    """Words in backticks with commas between, in the order given; of more than `most`, the first ones and how many
    are left."""
    every = list(words)
    text = ", ".join(f"`{word}`" for word in every[:most])
    return text if len(every) <= most else f"{text} and {len(every) - most} more"
