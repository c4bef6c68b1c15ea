"""The parts of a ruling as plain data: rules, cells, figures, citations and entries."""

from __future__ import annotations

from typing import Any

from yokebook.figure_trace import FigureTrace
from yokebook.law import Candidate
from yokebook.model import Cite, Rule, Step
from yokebook.session import Session
from yokebook.showing import show_val
from yokebook.trace import CellTrace, RuleTrace
from yokebook.values import hull, single


def cite_data(cite: Cite | None) -> dict[str, str] | None:
    """A citation as data."""
    return None if cite is None else {"document": cite.document, "section": cite.section}


def step_data(step: Step) -> dict[str, Any]:
    """One step of a rule's provenance as data."""
    return {"by": step.by, "op": step.op, "cite": cite_data(step.cite), "says": step.says}


def cell_data(cell: CellTrace) -> dict[str, str]:
    """One cell tried, as data."""
    return {
        "input": cell.input,
        "subject": cell.subject,
        "value": cell.value,
        "wanted": cell.wanted,
        "holds": cell.holds,
    }


def rule_head(rule: Rule) -> dict[str, Any]:
    """What identifies a rule and says what it does."""
    return {
        "rule": rule.id,
        "then": rule.then,
        "says": rule.says,
        "cite": cite_data(rule.cite),
        "checked": {"mark": rule.checked.mark, "source": rule.checked.source},
        "chain": [step_data(step) for step in rule.chain],
    }


def rule_data(traced: RuleTrace, session: Session) -> dict[str, Any]:
    holding = next((c for c in traced.where if all(cell.holds == "yes" for cell in c)), ())
    return {**rule_head(traced.rule), "cells": [cell_data(cell) for cell in holding]}


def figure_data(traced: FigureTrace) -> dict[str, Any]:
    """A figure as data: exact, as text, and its steps."""
    exact = single(traced.val.span)
    span = hull(traced.val.span)
    unit = traced.calculation.unit
    return {
        "calculation": traced.calculation.id,
        "subject": traced.subject.id,
        "says": traced.calculation.says,
        "value": show_val(traced.val, unit),
        "exact": _exact(exact),
        "low": _exact(span.low) if span else None,
        "high": _exact(span.high) if span else None,
        "unit": unit,
        "steps": traced.steps,
    }


def _exact(value: object) -> str | bool | None:
    if isinstance(value, bool) or value is None:
        return value
    return str(value)


def candidate_data(candidate: Candidate) -> dict[str, Any]:
    resolved = candidate.law.resolved if candidate.law is not None else None
    return {
        "id": resolved.document.id if resolved else None,
        "title": resolved.document.title if resolved else None,
        "edition": resolved.edition if resolved else None,
        "place": resolved.place if resolved else None,
        "entry": candidate.id,
        "state": candidate.state,
        "reason": candidate.reason,
        "amendments": [a.id for a in resolved.amendments] if resolved else [],
        "amendments_entered": resolved.amendments_entered if resolved else "",
        "office": candidate.office,
    }


def traced_data(traced: RuleTrace) -> dict[str, Any]:
    """One rule tried, as data for an explanation."""
    return {
        **rule_head(traced.rule),
        "fires": traced.fires,
        "beaten_by": list(traced.beaten_by),
        "where": [[cell_data(cell) for cell in cells] for cells in traced.where],
        "but_not": [[cell_data(cell) for cell in cells] for cells in traced.but_not],
    }
