"""What the service takes at most, and how long it waits; each is an option of `yokebook serve`.

Nothing else is loaded here, because the command's help needs it.
"""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from typing import Any


def _limit(default: Any, says: str, least: float = 0) -> Any:
    return field(default=default, metadata={"says": says, "least": least})


@dataclass(frozen=True)
class Limits:
    """Every limit with its default; `says` in a field's metadata is its help, `least` the smallest value allowed."""

    body_bytes: int = _limit(2_000_000, "bytes of a body that is no batch", 1)
    batch_bytes: int = _limit(64_000_000, "bytes of a batch", 1)
    batch_lines: int = _limit(100_000, "lines of a batch", 1)
    line_bytes: int = _limit(100_000, "bytes of one line of a batch", 1)
    depth: int = _limit(20, "levels that JSON may be nested", 2)
    seconds: float = _limit(10.0, "seconds of computing for a record, a line of a batch or a table", 0.001)
    long_seconds: float = _limit(60.0, "seconds of computing for a project or a comparison", 0.001)
    wait_seconds: float = _limit(30.0, "seconds that a request waits for its turn", 0.01)
    requests: int = _limit(100, "requests at a time", 1)
    connections: int = _limit(500, "connections at a time", 1)
    jobs: int = _limit(8, "batches that wait or run as jobs", 1)
    kept_jobs: int = _limit(20, "jobs that have ended and whose lines are kept", 1)
    job_bytes: int = _limit(1_000_000_000, "bytes of the lines that are kept of one job", 1)
    read_seconds: float = _limit(10.0, "seconds between two pieces of a request, and for the whole of its head", 0.01)
    body_seconds: float = _limit(60.0, "seconds for the whole body of a request", 0.01)
    write_seconds: float = _limit(30.0, "seconds for a client to take what is sent to it", 0.01)
    keep_alive_seconds: int = _limit(10, "seconds that a connection without a request is kept open", 1)
    grace_seconds: float = _limit(20.0, "seconds that running batches may go on once the service is told to end", 0)
    workers: int = _limit(0, "processes that rule; 0 for one more than there are processors", 0)

    @property
    def processes(self) -> int:
        """How many processes rule: one more than there are processors, so that one is always left for small requests
        while the processors are busy with batches."""
        return self.workers or (os.cpu_count() or 1) + 1
