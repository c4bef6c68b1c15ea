"""JSON, JSON Lines and SARIF of the same report."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from jsonschema.validators import validator_for

import ruling_data as data
from yokebook_adapters.as_json import as_json, as_json_lines
from yokebook_adapters.sarif import as_sarif

#: The OASIS schema lies beside the checkout where there is one; it is not ours to copy.
OASIS_SCHEMA = Path(__file__).parents[2] / ".." / "shared" / "standards" / "sarif-schema-2.1.0.json"


def test_json_holds_every_ruling_whole_and_every_view():
    report = data.report(*data.EVERY_KIND, refused=["a fault"])
    parsed = json.loads(as_json([report]))
    assert parsed["exit_status"] == 3
    [project] = parsed["projects"]
    assert project["rulings"] == [dict(ruling) for ruling in data.EVERY_KIND]
    assert project["refused"] == ["a fault"]
    assert set(project["views"]) == {
        "marks_by_yoke",
        "parts_to_buy",
        "amendment_effects",
        "governing_editions",
        "settled_or_reading",
    }
    assert [v["word"] for v in project["views"]["settled_or_reading"]] == ["readings differ", "not required"]
    assert sum(project["counts"].values()) == len(data.EVERY_KIND)


def test_json_lines_one_ruling_a_line_then_the_faults():
    lines = list(as_json_lines([data.report(data.REQUIRED, data.CANNOT_TELL, refused=["a fault"])]))
    assert all(line.endswith("\n") and line.count("\n") == 1 for line in lines)
    parsed = [json.loads(line) for line in lines]
    assert [entry.get("word") for entry in parsed] == ["required", "cannot tell", None]
    assert parsed[2] == {"file": "shop.yaml", "refused": "a fault"}


def run(*rulings, **more):
    return json.loads(as_sarif([data.report(*rulings, **more)]))["runs"][0]


@pytest.mark.parametrize(
    ("ruling", "kind"),
    [
        (data.NOT_SATISFIED, "fail"),
        (data.SATISFIED, "pass"),
        (data.ON_MEMORY, "pass"),
        (data.REQUIRED, "informational"),  # its question cannot come out against
        (data.ALSO_HELD, "informational"),
        (data.CANNOT_TELL, "open"),
        (data.NOT_DECIDED, "open"),
        (data.NO_ADOPTION, "open"),
        (data.READINGS_DIFFER, "review"),
        (data.WOULD_BE, "review"),  # against, but not checked: never a fail
        (data.DOES_NOT_ARISE, "notApplicable"),
        (data.NONE_IN_FORCE, "notApplicable"),
    ],
    ids=lambda value: value if isinstance(value, str) else value["word"],
)
def test_sarif_kinds(ruling, kind):
    [result] = run(ruling)["results"]
    assert result["kind"] == kind
    assert result["level"] == ("error" if kind == "fail" else "none")
    assert result["properties"]["word"] == ruling["word"]


def test_sarif_points_at_the_device_and_the_line():
    [location] = run(data.NOT_SATISFIED)["results"][0]["locations"]
    assert location["logicalLocations"] == [
        {"name": "R1 upper, copy room", "fullyQualifiedName": "copy/R1/upper", "kind": "contact"}
    ]
    assert location["physicalLocation"] == {
        "artifactLocation": {"uri": "shop.yaml", "index": 0},
        "region": {"startLine": 12, "startColumn": 9},
    }


def test_sarif_sections_are_taxa_of_their_document():
    made = run(data.NOT_SATISFIED)
    [taxonomy] = made["taxonomies"]
    assert taxonomy["name"] == "National Electrical Code, 2023 edition"
    assert [taxon["id"] for taxon in taxonomy["taxa"]] == ["406.3(F)"]
    [taxon] = made["results"][0]["taxa"]
    assert made["taxonomies"][taxon["toolComponent"]["index"]]["taxa"][taxon["index"]]["id"] == taxon["id"]


def test_sarif_rules_are_the_questions():
    made = run(*data.EVERY_KIND)
    rules = made["tool"]["driver"]["rules"]
    for result in made["results"]:
        assert rules[result["ruleIndex"]]["id"] == result["ruleId"]


def test_sarif_tells_of_faults_and_the_exit_status():
    [invocation] = run(data.CONFLICT, refused=["shop.yaml:3:5: no"])["invocations"]
    assert invocation["exitCode"] == 3
    assert invocation["executionSuccessful"] is False
    assert [n["message"]["text"] for n in invocation["toolExecutionNotifications"]] == [
        "shop.yaml:3:5: no",
        "copy/R1, receptacle.rating: conflict",
    ]
    [clean] = run(data.NOT_SATISFIED)["invocations"]
    assert (clean["exitCode"], clean["executionSuccessful"]) == (1, True)


def test_sarif_is_the_same_twice():
    report = data.report(*data.EVERY_KIND)
    assert as_sarif([report]) == as_sarif([report])


@pytest.mark.skipif(not OASIS_SCHEMA.exists(), reason=f"the OASIS schema is not at {OASIS_SCHEMA}")
def test_sarif_is_valid_by_the_oasis_schema():
    schema = json.loads(OASIS_SCHEMA.read_text(encoding="utf-8"))
    log = json.loads(as_sarif([data.report(*data.EVERY_KIND, refused=["a fault"]), data.report()]))
    validator = validator_for(schema)(schema)
    assert [f"{list(e.path)}: {e.message}" for e in validator.iter_errors(log)] == []
    # the check can fail
    log["runs"][0]["results"][0]["kind"] = "maybe"
    assert list(validator.iter_errors(log))
