"""What is asked of a project: the thing that nobody named before facts of it; one line for all that lack the same."""

from __future__ import annotations

from pathlib import Path

import pytest

from scenarios.staging import whole
from shipped_book import rulebook
from yokebook_adapters.command_line.main import main

FLOOR = Path(__file__).parent / "sc07.yaml"


def test_a_circuit_that_nobody_named_is_asked_for_before_its_breaker() -> None:
    """SC-07 names no circuits. A fact of a circuit can be stated only once it is said which circuit that is."""
    wanted = ("receptacle.circuit-rating", "floor/W1/upper")
    ruling = next(r for (question, subject, _), r in whole("sc07").items() if (question, subject) == wanted)
    assert ruling.status == "cannot tell"
    [ask] = [ask for ask in ruling.ask if ask["kind"] == "link"]
    assert (ask["subject"], ask["fact"]) == ("floor/W1/upper", "contact.circuit")
    assert ask["asks"].startswith("Which circuit feeds it? Of that circuit: What is the rating of the breaker or fuse?")
    assert not [ask for ask in ruling.ask if ask["fact"].startswith("circuit.")]


def test_a_flat_record_can_state_the_circuits_facts_and_is_asked_for_them() -> None:
    code = rulebook().edition("nfpa-70", "2020")
    ruling = code.rule("receptacle.circuit-rating", {"receptacle.configuration": "5-15R"})
    assert "circuit.breaker_amps" in {ask["fact"] for ask in ruling.ask}


@pytest.mark.slow
def test_fifty_four_devices_that_lack_the_same_are_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    """A floor of 54 devices with no circuits: 868 open rulings, and still a page that somebody reads."""
    status = main(["rule", str(FLOOR)])
    out = capsys.readouterr().out
    assert status == 1
    assert len(out.splitlines()) < 400
    assert "D1a, D1b, D2a, D2b, D3a, D3b, D4a, D4b and 46 more" in " ".join(out.split())
