"""Where the data that comes with the package is: the rulebook and the schemas."""

from __future__ import annotations

from pathlib import Path
from typing import Literal


def folder(kind: Literal["rulebook", "schemas"]) -> Path:
    """The folder of the shipped data of this kind: beside the installed package, or at the top of a checkout.

    Raises FileNotFoundError if neither is there.
    """
    package = Path(__file__).resolve().parent
    for candidate in (package / kind, package.parent.parent / kind):
        if candidate.is_dir():
            return candidate
    raise FileNotFoundError(f"the installed package has no `{kind}` folder; install it again")
