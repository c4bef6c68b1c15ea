"""How much the long random checks try: what CI has time for, or all that they are meant to, run by hand.

`YOKEBOOK_TRY_ALL=1 .venv/bin/python -m pytest -m slow` tries all.
"""

from __future__ import annotations

import os

#: Whether everything is tried.
ALL = os.environ.get("YOKEBOOK_TRY_ALL") == "1"


def tries(in_ci: int, in_all: int) -> int:
    """How many to try: so many in CI, or all."""
    return in_all if ALL else in_ci
