"""Real places whose houses are on a code that is not entered: what a project of another building chooses there."""

from __future__ import annotations

OTHER_BUILDINGS = {
    "us/mi": {"building-kind": "other building"},
    "us/ut": {"residential-code": "other installation"},
    "us/wi": {"building-kind": "other building"},
}
