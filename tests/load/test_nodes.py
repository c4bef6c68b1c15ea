"""Text that is no good YAML or JSON: one clear message, at its place, and whatever can still be read is."""

from __future__ import annotations

import json
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from yokebook.load import files, yaml_nodes
from yokebook.load.faults import Fault
from yokebook.load.files import read_bytes
from yokebook.load.nodes import MappingNode, Scalar, plain_data

COMMA = "inside { } a comma in unquoted text starts a new key, so put text that holds a comma in quotes"


def read(data: bytes | str, name: str = "f.yaml", **limits: int) -> tuple[Any, list[str]]:
    """What was read, as plain data, and the faults."""
    faults: list[Fault] = []
    node = read_bytes(data.encode() if isinstance(data, str) else data, name, faults, **limits)
    return (None if node is None else plain_data(node)), [str(fault) for fault in faults]


BAD_YAML: dict[str, tuple[bytes | str, Any, str]] = {
    "empty": ("", None, "f.yaml:1:1: the file is empty"),
    "blank": ("\n  \n", None, "f.yaml:1:1: the file is empty"),
    "only comments": ("# x\n", None, "f.yaml:1:1: the file holds only comments"),
    "not UTF-8": (b"a: x\nb: caf\xe9\n", None, "f.yaml:2:7: byte 0xe9 is not UTF-8; save it as UTF-8"),
    "UTF-16": ("a: x".encode("utf-16"), None, "f.yaml:1:1: byte 0xff is not UTF-8; save it as UTF-8"),
    "control character": ("a: x\n  b\0\n", None, "f.yaml:2:4: control character U+0000 is not allowed in text"),
    "key twice": ("a: x\nb: y\na: z\n", {"a": "x", "b": "y"}, "f.yaml:3:1: `a` stands twice here, first in line 1"),
    "anchor": (
        "a: &n x\n",
        {"a": "x"},
        "f.yaml:1:4: `&n` is an anchor; anchors and aliases are not allowed, leave it out",
    ),
    "alias": ("a: x\nb: *n\n", None, "f.yaml:2:4: `*n` is an alias; write the thing out again"),
    "tag": ("a: !!str 5\n", {"a": 5}, "f.yaml:1:4: `!!str` is a tag; tags are not allowed, leave it out"),
    "own tag": ("a: !x {b: c}\n", {"a": {"b": "c"}}, "f.yaml:1:4: `!x` is a tag; tags are not allowed, leave it out"),
    "two documents": (
        "a: x\n---\nb: y\n",
        None,
        "f.yaml:2:1: a second document starts here; allowed: one document a file",
    ),
    "key that is a list": ("? [a]\n: b\n", None, "f.yaml:1:3: a key must be text, found a list"),
    "key without a name": ("? \n: b\n", None, "f.yaml:1:2: a key must be text, found nothing"),
    "comma in text": (
        "{a: x, y z, b: c}",
        {"a": "x", "y z": None, "b": "c"},
        f"f.yaml:1:8: `y z` has no value: {COMMA}",
    ),
    "deep": ("a: " + "[" * 40 + "]" * 40, None, "f.yaml:1:33: this is nested too deep; allowed: at most 30 levels"),
    "deep blocks": ("- " * 31 + "x", None, "f.yaml:1:61: this is nested too deep; allowed: at most 30 levels"),
    "unclosed": (
        "a: [1, 2\nb: 3\n",
        None,
        "f.yaml:2:2: this is not YAML: inside the `[` of line 1, a colon stands here where a comma or `]` is "
        "due; is a `]` missing before it?",
    ),
    "tab": (
        "a:\n\t- b\n",
        None,
        "f.yaml:2:1: this is not YAML: a tab stands here; indent with spaces",
    ),
}

NO_VALUE = "allowed: text in double quotes, a number, true, false or null"
BAD_JSON: dict[str, tuple[bytes | str, Any, str]] = {
    "key twice": ('{"a": 1,\n "a": 2}', {"a": 1}, "f.json:2:2: `a` stands twice here, first in line 1"),
    "NaN": ('{"a": NaN}', {"a": "NaN"}, f"f.json:1:7: this is not JSON: `NaN` is no value; {NO_VALUE}"),
    "infinity": (
        '{"a": -Infinity}',
        {"a": "-Infinity"},
        f"f.json:1:7: this is not JSON: `-Infinity` is no value; {NO_VALUE}",
    ),
    "leading zero": ('{"a": 01}', {"a": 1}, f"f.json:1:7: this is not JSON: `01` is no value; {NO_VALUE}"),
    "bare word": ('{"a": yes}', {"a": "yes"}, f"f.json:1:7: this is not JSON: `yes` is no value; {NO_VALUE}"),
    "trailing comma": ("[1,]", None, "f.json:1:4: this is not JSON: a value is missing here"),
    "no comma": ("[1 2]", None, "f.json:1:4: this is not JSON: a comma or `]` is due here"),
    "bare key": ("{a: 1}", None, "f.json:1:2: this is not JSON: a key in double quotes is due here"),
    "no colon": ('{"a" 1}', None, "f.json:1:6: this is not JSON: a colon is due after the key `a`"),
    "cut short": ('{"a": ', None, "f.json:1:7: this is not JSON: the text ends too soon"),
    "more": ("{} {}", None, "f.json:1:4: this is not JSON: something follows the end of the value"),
    "line break in text": (
        '{"a": "x\ny"}',
        None,
        "f.json:1:7: this is not JSON: this text in quotes cannot be read: invalid control character",
    ),
    "unclosed text": (
        '{"a": "x',
        None,
        "f.json:1:7: this is not JSON: this text in quotes cannot be read: unterminated string",
    ),
    "half a surrogate pair": (
        '{"a": "\\ud83d"}',
        None,
        "f.json:1:7: this is not JSON: half of a surrogate pair stands alone in this text",
    ),
    "deep": ("[" * 31, None, "f.json:1:31: this is nested too deep; allowed: at most 30 levels"),
    "empty": ("", None, "f.json:1:1: the file is empty"),
    "not UTF-8": (b'{"a": "\xff"}', None, "f.json:1:8: byte 0xff is not UTF-8; save it as UTF-8"),
}


@pytest.mark.parametrize(("data", "rest", "fault"), BAD_YAML.values(), ids=BAD_YAML)
def test_bad_yaml(data: bytes | str, rest: Any, fault: str) -> None:
    assert read(data) == (rest, [fault])


@pytest.mark.parametrize(("data", "rest", "fault"), BAD_YAML.values(), ids=BAD_YAML)
def test_bad_yaml_without_the_parser_in_c(
    data: bytes | str, rest: Any, fault: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(yaml_nodes, "_FAST", yaml.SafeLoader)
    assert read(data) == (rest, [fault])


@pytest.mark.parametrize(("data", "rest", "fault"), BAD_JSON.values(), ids=BAD_JSON)
def test_bad_json(data: bytes | str, rest: Any, fault: str) -> None:
    assert read(data, "f.json") == (rest, [fault])


def test_huge_file() -> None:
    data = b"a: " + b"x" * 2_000_000
    assert read(data) == (None, ["f.yaml:1:1: the file has 2,000,003 bytes; allowed: at most 2,000,000"])
    assert read("a: xyz", size_limit=5) == (None, ["f.yaml:1:1: the file has 6 bytes; allowed: at most 5"])


def test_missing_file(tmp_path: Any) -> None:
    faults: list[Fault] = []
    assert files.read_file(tmp_path / "gone.yaml", "gone.yaml", faults) is None
    assert [str(fault) for fault in faults] == ["gone.yaml:1:1: cannot be read: No such file or directory"]


def test_a_byte_order_mark_is_no_fault_and_moves_no_column() -> None:
    faults: list[Fault] = []
    node = read_bytes(b"\xef\xbb\xbfa: x\n", "f.yaml", faults)
    assert isinstance(node, MappingNode) and not faults
    assert str(node.entries["a"].key.at) == "f.yaml:1:1"


def test_plain_scalars_keep_their_text() -> None:
    node = read_bytes(b"{a: 210.10, b: yes, c: 2024-10-01, d: 0x1F, e: 1_000, f: '7', g: ~}", "f.yaml", [])
    assert isinstance(node, MappingNode)
    scalars = [entry.value for entry in node.entries.values()]
    assert [scalar.text for scalar in scalars if isinstance(scalar, Scalar)] == [
        "210.10", "yes", "2024-10-01", "0x1F", "1_000", "7", "~",
    ]  # fmt: skip
    assert [scalar.is_number for scalar in scalars if isinstance(scalar, Scalar)] == [
        True, False, False, True, False, False, False,
    ]  # fmt: skip


def test_yes_and_no() -> None:
    """yes and no are meant in any quotes, as one schema serves YAML and JSON; true and false only without."""
    for text, plain, truth in (
        ("yes", True, True), ("no", False, False), ("true", True, True), ("false", False, None), ("True", True, True),
        ("Yes", True, None), ("on", True, None), ("1", True, None), ("0", True, None), ("y", True, None),
    ):  # fmt: skip
        assert Scalar("f", 1, 1, text, plain).truth is truth, text


def test_json_with_tabs_escapes_and_pairs_of_surrogates() -> None:
    text = '\t{\t"a":\t"\\ud83d\\ude00\\/",\r\n"b": [1.5e2, -0, true, null]}'
    assert read(text, "f.json") == ({"a": "\N{GRINNING FACE}/", "b": [150.0, 0, True, None]}, [])


JSON_TEXT = st.text(st.characters(exclude_categories=("Cs", "Cc"), exclude_characters="\ufffe\uffff\ufeff"), max_size=8)
JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(10**9), 10**9)
    | st.floats(allow_nan=False, allow_infinity=False)
    | JSON_TEXT,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(JSON_TEXT, inner, max_size=4),
    max_leaves=12,
)


@given(JSON, st.sampled_from([None, 2, "\t"]), st.booleans())
def test_any_json_is_read_as_the_standard_library_reads_it(value: Any, indent: Any, ascii_only: bool) -> None:
    text = json.dumps(value, indent=indent, ensure_ascii=ascii_only)
    assert read(text, "f.json") == (json.loads(text), [])


@given(st.text(max_size=60))
def test_any_text_gives_nodes_or_faults(text: str) -> None:
    for name in ("f.yaml", "f.json"):
        faults: list[Fault] = []
        node = read_bytes(text.encode("utf-8", "surrogatepass"), name, faults)
        assert node is not None or faults
