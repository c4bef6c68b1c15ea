"""Differences kept for pairs of tables are those of just these pairs."""

from __future__ import annotations

from dataclasses import replace
from unittest import mock

from hypothesis import given, settings
from hypothesis import strategies as st

from proof.tables import as_space
from proof.test_properties import scaled_pairs
from yokebook.proof import compared
from yokebook.proof.compared import Compared
from yokebook.proof.differences import differences


@settings(max_examples=40, deadline=None)
@given(st.lists(scaled_pairs(), min_size=1, max_size=3))
def test_they_are_as_worked_out_anew(pairs: list[tuple[object, object, list[bool]]]) -> None:
    """Also with the sides changed over, another answer where none fires, and other scales: each pair by itself."""
    kept = Compared()
    for was, now, scales in pairs:
        for one, other in ((was, now), (now, was), (replace(was, none_fires="low"), now)):  # type: ignore[type-var]
            for its_scales in (scales, [False] * len(scales)):
                space = as_space([one, other], its_scales)  # type: ignore[list-item]
                assert kept.differences(space) == differences(space) == kept.differences(space)


@settings(max_examples=10, deadline=None)
@given(scaled_pairs())
def test_they_are_worked_out_once(pair: tuple[object, object, list[bool]]) -> None:
    was, now, scales = pair
    kept = Compared()
    with mock.patch.object(compared, "differences", wraps=differences) as work:
        for _ in range(3):
            kept.differences(as_space([was, now], scales))  # type: ignore[list-item]
    assert work.call_count == 1
