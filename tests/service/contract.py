"""Schemathesis over the service, with its own command in a process of its own: what is documented holds, and nothing
else comes.

It works from the document as it is served wherever it can. Two things a schema cannot say, and so two more documents
are cut from it. Which ids, places and facts go together: where whatever fits has to be accepted, words that are known
stand where the document can only say that they are text (`with_known_words`). And the phase that goes through every
keyword one by one makes, of each object, one case for each key that may be left out, one for each number of them and
some for the values of each; of a record of hundreds of facts, or of a project of things within things, there is no end
to it. For that phase records and projects are left a few facts and nothing else is changed (`with_few_facts`).
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

Json = dict[str, Any]

#: Facts of every kind of value: a rating, a number with its unit, yes or no, a name, text.
_FACTS = (
    "receptacle.configuration", "contact.supply", "control.off_delay_min", "contact.controls.complete", "project.place",
    "stated_by",
)  # fmt: skip
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


def with_few_facts(document: Json) -> Json:
    """The document with few facts in what it takes; what it gives stays as it is."""
    schemas = document["components"]["schemas"]
    schemas["record"]["properties"] = {name: schemas["record"]["properties"][name] for name in _FACTS}
    project = schemas["project"]
    project["properties"] = {name: project["properties"][name] for name in ("project", "complete", "spaces")}
    things = project["$defs"]
    for thing, keys in _OF_THINGS.items():
        things[thing]["properties"] = {key: things[thing]["properties"][key] for key in keys}
    for thing in set(things) - set(_OF_THINGS):
        del things[thing]
    schemas["project_read"]["properties"]["project"] = {"type": "object"}  # it is given back whole
    return document


def with_known_words(document: Json) -> Json:
    """The document with few facts, and with words of the rulebook where it says only text, so that whatever fits it has
    to be accepted. What does not fit it may be right all the same."""
    schemas = with_few_facts(document)["components"]["schemas"]
    schemas["record"].pop("patternProperties")
    del schemas["record"]["properties"]["control.off_delay_min"]  # its text with a unit may be beyond what there is
    schemas["record"]["properties"]["project.place"] = {"enum": [PLACE, None]}
    project = schemas["project"]
    project["properties"]["spaces"]["maxItems"] = 1  # ids may not be repeated, which no schema can say
    things = project["$defs"]
    for thing, keys in _OF_THINGS.items():
        for name in {"yokes", "contacts"} & set(keys):
            things[thing]["properties"][name]["maxItems"] = 1
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
    _known(schemas["compare"])
    schemas["compare"]["properties"]["questions"] = {"enum": [["R06"]]}
    schemas["compare"]["required"] = ["was", "now", "questions"]
    for path in document["paths"].values():
        for operation in path.values():
            # an edition does not go with a place
            operation["parameters"] = [each for each in operation["parameters"] if each["name"] != "edition"]
            for parameter in operation["parameters"]:
                _known_parameter(parameter)
    return document


def _known(request: Json) -> None:
    words = {
        "question": {"enum": ["R03"]},
        "questions": {"enum": [["R03"], ["marking.required", "R06"]]},
        "topics": {"enum": [[], ["wiring"]]},
        "document": {"enum": ["electrical"]},
        "subject": {"enum": ["A/B/C"]},
    }
    request["properties"] |= {name: words[name] for name in request["properties"] if name in words}


def _known_parameter(parameter: Json) -> None:
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


def document_of(server: Server) -> Json:
    """The document as it is served."""
    found: Json = httpx.get(f"{server.url}/v1/openapi.json").json()
    return found


#: Words, ids and facts that do not go together are refused, which no schema can say; nothing else is.
AS_SERVED = """
request-timeout = 60

[[operations]]
include-path-regex = "^/v1/(records/|projects/|compare|jobs$)"

[operations.checks.positive_data_acceptance]
expected-statuses = ["2xx", "400", "422"]

[[operations]]
include-path-regex = "[{]"

[operations.checks.positive_data_acceptance]
expected-statuses = ["2xx", "400", "404"]
"""

#: A job has to be started before it can be found; what a project's ids lead to and what stands in a file no schema
#: can say.
WITH_KNOWN_WORDS = """
request-timeout = 60

[[operations]]
include-path-regex = "/v1/jobs/.*|/v1/projects/(explain|face|read)"

[operations.checks.positive_data_acceptance]
expected-statuses = ["2xx", "404", "422"]
"""


def hold(server: Server, folder: Path, document: Json, config: str, *options: str) -> str:
    """Runs schemathesis on the service with every check that it has; what it printed. Fails where it finds anything."""
    (folder / "document.json").write_text(json.dumps(document), encoding="utf-8")
    (folder / "contract_hooks.py").write_text(_HOOKS, encoding="utf-8")
    (folder / "schemathesis.toml").write_text(config, encoding="utf-8")
    command = [
        sys.executable, "-m", "schemathesis.cli", "--config-file", "schemathesis.toml", "run", "document.json",
        "--url", server.url, "--seed", "20", "--no-color", "--warnings", "off", "--generation-database", "none",
        *options,
    ]  # fmt: skip
    env = {**os.environ, "SCHEMATHESIS_HOOKS": "contract_hooks", "PYTHONPATH": str(folder)}
    done = subprocess.run(command, cwd=folder, env=env, capture_output=True, text=True, timeout=570, check=False)
    assert done.returncode == 0, done.stdout[-6000:] + done.stderr[-2000:]
    return done.stdout
