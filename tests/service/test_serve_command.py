"""`yokebook serve` before it serves: what it refuses, and what it says."""

from __future__ import annotations

import importlib.util
import signal
import socket
from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest

from yokebook_adapters.command_line import serve
from yokebook_adapters.command_line.main import build_parser, main
from yokebook_adapters.service import serving
from yokebook_adapters.service.limits import Limits


def refused(capsys: pytest.CaptureFixture[str], *options: str) -> tuple[int, str]:
    status = main(["serve", *options])
    printed = capsys.readouterr()
    assert printed.out == ""
    return status, printed.err


def test_an_address_that_others_can_reach_is_refused_unless_it_is_meant(capsys: pytest.CaptureFixture[str]):
    for host in ("0.0.0.0", "::", "192.0.2.7", "some-host.example"):
        status, said = refused(capsys, "--host", host)
        assert status == 2
        assert f"`{host}` can be reached from other machines; there is no log-in and no encryption" in said
        assert "--beyond-this-machine" in said


def test_where_it_is_meant_it_is_said(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]):
    served: list[Any] = []
    monkeypatch.setattr(serving, "serve", lambda *arguments: served.append(arguments))
    monkeypatch.setattr(serve, "_listening", lambda host, port: socket.socket())
    assert main(["serve", "--host", "0.0.0.0", "--beyond-this-machine", "--allow-host", "box.example"]) == 0
    assert "caution: `0.0.0.0` can be reached from other machines" in capsys.readouterr().err
    [(_, limits, _, hosts, origin, kept, _)] = served
    assert limits == Limits() and hosts == ["0.0.0.0", "box.example"] and origin is None and kept is None


def test_what_is_missing_is_named(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]):
    there = importlib.util.find_spec

    def without(name: str, package: str | None = None) -> Any:
        return None if name in ("uvicorn", "sse_starlette") else there(name, package)

    monkeypatch.setattr(importlib.util, "find_spec", without)
    status, said = refused(capsys)
    assert status == 2
    assert said == (
        "yokebook: `yokebook serve` needs uvicorn, sse-starlette; install it with `pip install 'yokebook[service]'`\n"
    )


def test_a_system_without_timers_is_told(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]):
    monkeypatch.delattr(signal, "setitimer")
    status, said = refused(capsys)
    assert status == 3
    assert "needs Linux, macOS or another Unix" in said and "on Windows, run it in the Linux subsystem" in said


def test_a_folder_for_jobs_that_is_none(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    (tmp_path / "file").write_text("", encoding="utf-8")
    status, said = refused(capsys, "--port", "0", "--jobs-folder", str(tmp_path / "file"))
    assert status == 3 and f"--jobs-folder: {tmp_path / 'file'} cannot be used: File exists" in said


def test_a_port_that_is_taken(capsys: pytest.CaptureFixture[str]):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        status, said = refused(capsys, "--port", str(port))
    assert status == 3
    assert said == f"yokebook: cannot serve at 127.0.0.1, port {port}: Address already in use\n"


@pytest.mark.parametrize(
    ("option", "value", "said"),
    [
        ("--port", "70000", "`70000` is no port; allowed: 0 to 65535"),
        ("--body-bytes", "0", "`0` is no whole number from 1 on"),
        ("--body-bytes", "1.5", "`1.5` is no whole number from 1 on"),
        ("--seconds", "nan", "`nan` is no number from 0.001 on"),
        ("--seconds", "inf", "`inf` is no number from 0.001 on"),
        ("--depth", "31", "--depth: 31 is too deep; allowed: at most 30"),
    ],
)
def test_limits_that_are_none(capsys: pytest.CaptureFixture[str], option: str, value: str, said: str):
    status, found = refused(capsys, option, value)
    assert status == 2 and said in found


def test_every_limit_is_an_option_with_its_default_in_the_help(capsys: pytest.CaptureFixture[str]):
    main(["serve", "--help"])
    words = " ".join(capsys.readouterr().out.split())
    args = build_parser().parse_args(["serve"])
    for limit in fields(Limits):
        assert f"--{limit.name.replace('_', '-')} N" in words
        assert f"{limit.metadata['says']}; default: {limit.default:,}" in words
        assert getattr(args, limit.name) == limit.default
