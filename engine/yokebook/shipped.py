"""Where the data that comes with the package is: the rulebook and the schemas."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from pathlib import Path

PACK = "rulebook.jsonl"
#: The folder of the engine itself.
PACKAGE = os.path.dirname(os.path.abspath(__file__))


def folder(kind: Literal["rulebook", "schemas"]) -> Path:
    """The folder of the shipped data of this kind: beside the installed package, or at the top of a checkout.

    Raises FileNotFoundError if neither is there.
    """
    from pathlib import Path  # not needed to load a pack, and slow to import

    return Path(folder_name(kind))


def folder_name(kind: Literal["rulebook", "schemas"]) -> str:
    """As `folder`, as text."""
    for above in (PACKAGE, os.path.dirname(os.path.dirname(PACKAGE))):
        found = os.path.join(above, kind)
        if os.path.isdir(found):
            return found
    raise FileNotFoundError(f"the installed package has no `{kind}` folder; install it again")


def pack_name() -> tuple[str, bool]:
    """The file that the pack of the shipped rulebook is in, or is to be kept in, and whether it came with the
    package: beside the rulebook in an installed package, in a folder of its own at the top of a checkout."""
    above = os.path.dirname(folder_name("rulebook"))
    if above == PACKAGE:
        return os.path.join(above, PACK), True
    return os.path.join(above, ".yokebook_cache", PACK), False
