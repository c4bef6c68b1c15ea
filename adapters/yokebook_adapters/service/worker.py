"""What runs in the processes that rule: one rulebook, kept ready; every task within its time.

A task that is stopped may leave something half worked out behind, so the process then starts over with a fresh copy of
the rulebook.
"""

from __future__ import annotations

import gc
import os
import pickle
import signal
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing import parent_process
from types import FrameType
from typing import Any

from yokebook_adapters.service import (
    batch_operations,
    files,
    following_operations,
    project_operations,
    record_operations,
    table_operations,
)
from yokebook_adapters.service.desk import Desk
from yokebook_adapters.service.limits import Limits
from yokebook_adapters.service.problems import Problem, json_bytes
from yokebook_adapters.service.queries import Pairs

#: What can be asked with a body, by the name of the operation.
WITH_BODY: dict[str, Callable[[Desk, bytes], dict[str, Any]]] = {
    "ruleRecord": record_operations.rule_record,
    "explainRecord": record_operations.explain_record,
    "askRecord": record_operations.ask_record,
    "ruleProject": project_operations.rule_project,
    "explainProject": project_operations.explain_project,
    "scheduleProject": project_operations.schedule_project,
    "authorityProject": project_operations.authority_project,
    "compareLaws": project_operations.compare_laws,
    "readProject": files.read_project,
    "sheetProject": project_operations.sheet_project,
    "printProject": project_operations.print_project,
    "faceProject": project_operations.face_project,
}


@dataclass(frozen=True)
class Start:
    """What a process starts with: the rulebook, pickled, its digest and the limits."""

    rulebook: bytes
    digest: str
    limits: Limits


class _TimeUp(BaseException):
    """The time of the task at hand is up; no `except Exception` on the way keeps it."""


_start: Start | None = None
_desk: Desk | None = None


def begin(start: Start) -> None:
    """Makes the process ready. It takes no notice of signals meant for the service, which ends it in good order, and
    ends by itself when the service is gone."""
    global _start
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    threading.Thread(target=_end_with_the_service, daemon=True).start()
    _start = start
    _at_desk()
    gc.freeze()  # the rulebook stays: the collector need not look at it again


def _end_with_the_service() -> None:
    service = parent_process()
    if service is not None:
        service.join()
        os._exit(0)


def _at_desk() -> Desk:
    global _desk
    assert _start is not None  # the process was begun
    if _desk is None:
        _desk = Desk(pickle.loads(_start.rulebook), _start.digest, _start.limits)
    return _desk


@contextmanager
def _within(seconds: float) -> Iterator[None]:
    """Raises Problem where what is done takes longer."""
    global _desk

    def stop(number: int, frame: FrameType | None) -> None:
        raise _TimeUp

    before = signal.signal(signal.SIGALRM, stop)
    try:
        # again every second, since one that comes while an object is cleared away is lost
        signal.setitimer(signal.ITIMER_REAL, seconds, 1)
        yield
    except _TimeUp:
        _desk = None
        detail = f"This took longer than the {seconds:g} seconds that the service allows, and was stopped."
        raise Problem("too-long", detail) from None
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


def ready() -> int:
    """The number of the process, once it is ready."""
    _at_desk()
    return os.getpid()


def answer(operation: str, data: bytes, seconds: float) -> bytes:
    """The answer to one request as JSON. Raises Problem."""
    with _within(seconds):
        return json_bytes(WITH_BODY[operation](_at_desk(), data))


def tables(question: str, pairs: Pairs, seconds: float) -> bytes:
    """The tables that answer a question, as JSON. Raises Problem."""
    with _within(seconds):
        return json_bytes(table_operations.tables(_at_desk(), question, pairs))


def batch_begin(pairs: Pairs, lines: int, seconds: float) -> bytes:
    """The first line of the answer to a batch. Raises Problem where its query cannot be used."""
    with _within(seconds):
        return json_bytes(batch_operations.begin(_at_desk(), pairs, lines))


@dataclass(frozen=True)
class Ruled:
    """The answer to one line of a batch, as JSON, and whether it was refused."""

    data: bytes
    refused: bool


def batch_slice(pairs: Pairs, lines: Sequence[tuple[int, bytes]], seconds: float, slice_seconds: float) -> list[Ruled]:
    """The answers to the first of these lines, at least one and as many as the time of a slice allows."""
    started = time.monotonic()
    done: list[Ruled] = []
    for number, line in lines:
        if done and time.monotonic() - started > slice_seconds:
            break
        done.append(_line(pairs, number, line, seconds))
    return done


def _line(pairs: Pairs, number: int, line: bytes, seconds: float) -> Ruled:
    try:
        with _within(seconds):
            desk = _at_desk()
            of_all = batch_operations.wanted(desk, pairs)
            return Ruled(json_bytes(batch_operations.one_line(desk, of_all, number, line)), False)
    except Problem as problem:
        return Ruled(json_bytes({"line": number, "problem": problem.data()}), True)


def follow_begin(data: bytes, seconds: float) -> tuple[bytes, int]:
    """What the answer to a project that is followed begins with, as JSON, and how many rulings come. Raises Problem."""
    with _within(seconds):
        begin, total = following_operations.begin(_at_desk(), data)
        return json_bytes(begin), total


def follow_slice(data: bytes, first: int, last: int, seconds: float, slice_seconds: float) -> list[bytes]:
    """Rulings on a project from the one numbered `first` on, before `last`, at least one and as many as the time of a
    slice allows. Raises Problem."""
    started = time.monotonic()
    done: list[bytes] = []
    with _within(seconds + slice_seconds):
        desk = _at_desk()
        while first + len(done) < last and not (done and time.monotonic() - started > slice_seconds):
            done.append(json_bytes(following_operations.ruling(desk, data, first + len(done))))
    return done
