"""Heaps and exit statuses. The table is the one that the help text and the README promise, not what the code gives."""

from __future__ import annotations

from itertools import permutations

import pytest

import ruling_data as data
from yokebook_adapters.outcome import exit_status, heap

#: (what was found, the status it alone gives)
ALONE = [
    (data.SATISFIED, 0),
    (data.REQUIRED, 0),  # `required` is information, not a finding against
    (data.ALSO_HELD, 0),  # what others hold never changes the status
    (data.ON_MEMORY, 0),  # said on its face, but settled
    (data.DOES_NOT_ARISE, 0),
    (data.NONE_IN_FORCE, 0),
    (data.NOT_SATISFIED, 1),
    (data.CANNOT_TELL, 4),
    (data.READINGS_DIFFER, 4),
    (data.NOT_DECIDED, 4),
    (data.NO_ADOPTION, 4),
    (data.WOULD_BE, 4),  # against, but nobody read this edition: never 1
    (data.CONFLICT, 3),
    (data.SILENT, 3),
    (data.IMPOSSIBLE, 3),
]


@pytest.mark.parametrize(
    ("ruling", "status"), ALONE, ids=lambda value: value["word"] if isinstance(value, dict) else ""
)
def test_one_ruling_alone(ruling, status):
    assert exit_status([ruling]) == status


def test_nothing_ruled_is_settled():
    assert exit_status([]) == 0


def test_precedence_is_2_3_1_4_0():
    by_status = {status: ruling for ruling, status in ALONE}
    for several in permutations([0, 1, 3, 4]):
        for count in range(1, 5):
            found = several[:count]
            expected = next(status for status in (3, 1, 4, 0) if status in found)
            assert exit_status([by_status[status] for status in found]) == expected
    assert exit_status([data.NOT_SATISFIED], refused=True) == 3
    assert exit_status([data.CONFLICT], refused=True, usage=True) == 2


@pytest.mark.parametrize(
    ("ruling", "expected"),
    [
        (data.NOT_SATISFIED, "against"),
        (data.CONFLICT, "fault of the rulebook"),
        (data.SILENT, "fault of the rulebook"),
        (data.IMPOSSIBLE, "impossible"),
        (data.READINGS_DIFFER, "readings differ"),
        (data.CANNOT_TELL, "cannot tell"),
        (data.NOT_DECIDED, "cannot tell"),
        (data.WOULD_BE, "not checked"),
        (data.NO_ADOPTION, "not entered"),
        (data.ALSO_HELD, "also held"),
        (data.REQUIRED, "settled"),
        (data.DOES_NOT_ARISE, "does not arise"),
        (data.NONE_IN_FORCE, "does not arise"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_heaps(ruling, expected):
    assert heap(ruling) == expected


def test_an_idle_outcome_that_others_do_not_hold_is_not_put_away():
    assert heap(data.DOES_NOT_ARISE | {"also_held": data.ALSO_HELD["also_held"]}) == "also held"
