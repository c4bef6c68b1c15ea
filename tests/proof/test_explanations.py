"""P7, on shipped rulings: what is said to change an outcome does, nothing else would, and what is said to be enough is.

Numbers, and tables with every shape of exception, are in tests/ruling/test_order_and_explanation.py.
"""

from __future__ import annotations

import random
from collections import Counter

import pytest

from effort import tries
from proof import holds_of_explanations as holds


def tried(count: int, seed: int) -> Counter[str]:
    """Explains random records under random laws and tries every claim; how many of what."""
    rng = random.Random(seed)
    counts: Counter[str] = Counter()
    laws = list(holds.laws().values())
    while counts["settled"] < count:
        code = rng.choice(laws)
        record = holds.random_record(code, rng)
        explained = holds.explained(code, record)
        counts["settled"] += explained.status == "settled"
        counts["not settled"] += explained.status != "settled"
        counts["changes"] += holds.each_change_flips(code, record, explained)
        counts["values that change nothing"] += holds.untold_values_do_not_flip(code, record, explained)
        counts["facts enough"] += holds.enough_is_enough(code, record, explained, rng)
    print(dict(counts))
    return counts


class TestMarkingExplained:
    """P7. Each value told gives the outcome told, and any other value of that fact gives no other; the facts told to be
    enough force the outcome whatever the others are, and none of them can be left out."""

    def test_a_few_records(self) -> None:
        counts = tried(5, seed=3)
        assert counts["changes"] > 10 and counts["values that change nothing"] > 100 and counts["facts enough"] >= 5

    @pytest.mark.slow
    def test_many_records(self) -> None:
        """24 settled rulings in CI, 60 where all is tried."""
        count = tries(24, 60)
        counts = tried(count, seed=70)
        assert counts["settled"] == count
        assert counts["changes"] * 60 > 200 * count and counts["facts enough"] > count
