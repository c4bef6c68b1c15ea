"""Batches taken as jobs, kept in a folder until they have ended, so that a service that starts anew takes them up."""

from __future__ import annotations

import json
import os
import re
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

from yokebook_adapters.service.arriving import IN_MEMORY, Spooled
from yokebook_adapters.service.problems import json_bytes
from yokebook_adapters.service.queries import Pairs

_ENDING = ".batch"
_NAME = re.compile(r"[0-9a-f]{32}" + re.escape(_ENDING))


class Kept:
    """The folder. A batch is one file: its query as JSON in the first line, then its own lines as they came."""

    def __init__(self, folder: Path) -> None:
        """Raises OSError where there is no such folder and none can be made."""
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)  # it holds what clients sent
        self._folder = folder

    def keep(self, id_: str, pairs: Pairs, spool: Spooled) -> None:
        """Keeps the batch of a job; once this comes back it outlives the service, however that ends. Raises OSError."""
        whole = self._folder / f"{id_}{_ENDING}"
        part = whole.with_suffix(".part")
        with part.open("wb") as file:
            file.write(json_bytes({"query": [list(pair) for pair in pairs]}) + b"\n")
            spool.file.seek(0)
            shutil.copyfileobj(spool.file, file)
            file.flush()
            os.fsync(file.fileno())
        part.replace(whole)

    def drop(self, id_: str) -> None:
        """Lets the batch of a job go, if it is kept."""
        (self._folder / f"{id_}{_ENDING}").unlink(missing_ok=True)

    def all(self) -> Iterator[tuple[str, Pairs, Spooled]]:
        """Every batch that is kept, the oldest first: the id of its job, its query, its lines."""
        files = [path for path in self._folder.iterdir() if _NAME.fullmatch(path.name)]
        for path in sorted(files, key=lambda path: (path.stat().st_mtime_ns, path.name)):
            with path.open("rb") as file:
                query = json.loads(file.readline())["query"]
                spool = Spooled(tempfile.SpooledTemporaryFile(max_size=IN_MEMORY))  # noqa: SIM115 - the batch closes it
                shutil.copyfileobj(file, spool.file)
            for number, _ in spool.numbered():
                spool.lines, spool.last = spool.lines + 1, number
            yield path.stem, [(name, value) for name, value in query], spool
