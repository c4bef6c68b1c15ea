"""Schemathesis over the service, with its own command in a process of its own: what is documented holds, and nothing
else comes.

The document that it works from is the service's own, cut to what it can go through in the time: records and projects
with a few of their hundreds of facts, and words that are known where the document can only say that they are text. So
whatever fits this document has to be accepted.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import httpx

from service.running import DAY, PLACE, Server

_FACTS = ("receptacle.configuration", "contact.supply", "contact.controls.complete", "project.place", "stated_by")
_OF_THINGS = {
    "project": ("place", "stated_by"),
    "space": ("id", "yokes"),
    "receptacle": ("id", "configuration", "contacts"),
    "contact": ("id", "supply"),
}

_HOOKS = '''
import schemathesis

@schemathesis.serializer("application/jsonl")
def lines(ctx, value):
    """Only text has lines; what else is made to be wrong stands for a batch without any."""
    return value.encode("utf-8", "replace") if isinstance(value, str) else b""
'''


def cut(document: dict[str, Any]) -> dict[str, Any]:
    """The document with fewer facts, and with words where it says only text."""
    schemas = document["components"]["schemas"]
    schemas["record"]["properties"] = {name: schemas["record"]["properties"][name] for name in _FACTS}
    schemas["record"].pop("patternProperties")
    schemas["record"]["properties"]["project.place"] = {"enum": [PLACE, None]}
    project = schemas["project"]
    project["properties"] = {name: project["properties"][name] for name in ("project", "complete", "spaces")}
    project["properties"]["spaces"]["maxItems"] = 1  # ids may not be repeated, which no schema can say
    things = project["$defs"]
    for thing, keys in _OF_THINGS.items():
        things[thing]["properties"] = {key: things[thing]["properties"][key] for key in keys}
        for name in ("yokes", "contacts"):
            if name in things[thing]["properties"]:
                things[thing]["properties"][name]["maxItems"] = 1
    for thing in set(things) - set(_OF_THINGS):
        del things[thing]
    things["project"]["properties"]["place"] = {"enum": [PLACE, None]}
    schemas["law"] = {
        "type": "object",
        "properties": {"place": {"enum": [PLACE]}, "on": {"enum": [DAY]}},
        "required": ["place", "on"],
        "additionalProperties": False,
    }
    of_one_law = (
        "rule_record", "explain_record", "ask_record", "rule_project", "explain_project", "project_output",
        "print_project", "face_project",
    )  # fmt: skip
    for request in of_one_law:
        _known(schemas[request])
        schemas[request]["required"] = sorted({*schemas[request]["required"], "law"})
    schemas["project_read"]["properties"]["project"] = {"type": "object"}  # whole, not cut as what is sent is
    _known(schemas["compare"])
    schemas["compare"]["properties"]["questions"] = {"enum": [["R06"]]}
    schemas["compare"]["required"] = ["was", "now", "questions"]
    for path in document["paths"].values():
        for operation in path.values():
            for parameter in operation["parameters"]:
                _known_parameter(parameter)
    return document


def _known(request: dict[str, Any]) -> None:
    words = {
        "question": {"enum": ["R03"]},
        "questions": {"enum": [["R03"], ["marking.required", "R06"]]},
        "topics": {"enum": [[], ["wiring"]]},
        "document": {"enum": ["electrical"]},
        "subject": {"enum": ["A/B/C"]},
    }
    request["properties"] |= {name: words[name] for name in request["properties"] if name in words}


def _known_parameter(parameter: dict[str, Any]) -> None:
    words: dict[str, list[Any]] = {
        "place": [PLACE],
        "on": [DAY],
        "date": [[f"permit application={DAY}"], []],
        "choice": [[]],
        "document": ["electrical"],
        "topic": [[], ["wiring"]],
    }
    name = parameter["name"]
    if parameter["in"] == "path":
        known = {"schema": "record", "problem": "refused", "question": "R03", "fact": "contact.supply"}
        if name in known:
            parameter["schema"] = {"enum": [known[name]]}
        elif name == "place":
            parameter["schema"] = {"enum": [PLACE]}
    elif name in words:
        parameter["schema"] = {"enum": words[name]}
        parameter["required"] = name in ("place", "on")  # without a law nothing can be answered
    elif name == "question":
        parameter["schema"] = {"enum": [["R03"]]}
    if name == "edition":
        parameter["schema"] = {"enum": ["nfpa-70:2023"]}


def without_editions(document: dict[str, Any]) -> dict[str, Any]:
    """The document without the parameter that does not go with a place."""
    for path in document["paths"].values():
        for operation in path.values():
            operation["parameters"] = [each for each in operation["parameters"] if each["name"] != "edition"]
    return document


def hold(server: Server, folder: Path, *options: str) -> str:
    """Runs schemathesis on the service with every check that it has; what it printed. Fails where it finds anything."""
    document = without_editions(cut(httpx.get(f"{server.url}/v1/openapi.json").json()))
    (folder / "document.json").write_text(json.dumps(document), encoding="utf-8")
    (folder / "contract_hooks.py").write_text(_HOOKS, encoding="utf-8")
    (folder / "schemathesis.toml").write_text(_CONFIG, encoding="utf-8")
    command = [
        sys.executable, "-m", "schemathesis.cli", "--config-file", "schemathesis.toml", "run", "document.json",
        "--url", server.url, "--seed", "20", "--no-color", "--warnings", "off", "--generation-database", "none",
        *options,
    ]  # fmt: skip
    env = {**os.environ, "SCHEMATHESIS_HOOKS": "contract_hooks", "PYTHONPATH": str(folder)}
    done = subprocess.run(command, cwd=folder, env=env, capture_output=True, text=True, timeout=570, check=False)
    assert done.returncode == 0, done.stdout[-6000:] + done.stderr[-2000:]
    return done.stdout


#: A job has to be started before it can be found; what a project's ids lead to and what stands in a file no schema
#: can say.
_CONFIG = """
request-timeout = 60

[[operations]]
include-path-regex = "/v1/jobs/.*|/v1/projects/(explain|face|read)"

[operations.checks.positive_data_acceptance]
expected-statuses = ["2xx", "404", "422"]
"""
