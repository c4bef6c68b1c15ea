"""Proof: what holds of a whole table and not of one record. Gaps, conflicts, rules that never decide, differences."""
