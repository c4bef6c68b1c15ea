"""A small checkout of its own: this engine, a rulebook of a few lines, and processes that load it."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

from small_rulebook import write
from yokebook import shipped

#: What a process says of the rulebook that it loads: the delay that a rule names, and whether YAML was read.
PROGRAM = """
import sys, yokebook
book = yokebook.load().book
print(book.facts["control.delay_min"].asks, "yaml" in sys.modules)
"""


class Checkout:
    """A copy of the engine beside a small rulebook."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.rulebook = folder / "rulebook"
        self.kept = folder / ".yokebook_cache" / shipped.PACK
        ignored = shutil.ignore_patterns("__pycache__", "proof")
        shutil.copytree(shipped.PACKAGE, folder / "engine" / "yokebook", ignore=ignored)
        shutil.copytree(shipped.folder("schemas"), folder / "schemas")
        write(self.rulebook)

    @property
    def fact(self) -> Path:
        """The file of the fact whose question the processes tell."""
        return self.rulebook / "facts" / "control.yaml"

    def ask(self, text: str) -> None:
        """Writes another question of the same length into the file of the fact."""
        old = self.fact.read_text(encoding="utf-8")
        assert len(text) == len("How long does it wait?") and old.count("?\n    look: The setting.") == 1
        start = old.index("asks: ", old.index("How long it waits."))
        end = old.index("\n", start)
        self.fact.write_text(f"{old[:start]}asks: {text}{old[end:]}", encoding="utf-8")

    def start(self, program: str = PROGRAM) -> subprocess.Popen[str]:
        """A process that imports this engine and no other."""
        environment = {**os.environ, "PYTHONPATH": str(self.folder / "engine"), "PYTHONDONTWRITEBYTECODE": "1"}
        return subprocess.Popen(
            [sys.executable, "-c", program],
            env=environment,
            cwd=self.folder,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )

    def run(self, program: str = PROGRAM) -> str:
        """What a process prints; its errors where it fails."""
        out, errors = self.start(program).communicate(timeout=120)
        return out.strip() or errors
