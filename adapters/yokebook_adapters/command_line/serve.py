"""`yokebook serve`: the same rulings over HTTP, for tools and for the page in a browser."""

from __future__ import annotations

import argparse
import importlib.util
import ipaddress
import signal
import socket
import sys
from dataclasses import fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

from yokebook_adapters.command_line.arguments import Commands, Parser, Stopped, UsageFault, add_rulebook

if TYPE_CHECKING:
    from yokebook_adapters.service.kept import Kept
    from yokebook_adapters.service.limits import Limits

_PORT = 8425
_NEEDS = ("starlette", "uvicorn", "sse_starlette")

_EPILOG = """examples:
  yokebook serve
  yokebook serve --port 9000 --body-bytes 5000000

Every path is in the OpenAPI document at /v1/openapi.json. SIGTERM or Ctrl-C ends the service: it takes nothing new,
and batches that run may go on for the grace time; one that does not end in it says which lines were not ruled on, and
if it is a job and there is a --jobs-folder, it is taken up again when the service starts."""


def add(commands: Commands) -> None:
    """Adds the command."""
    parser: Parser = commands.add_parser(
        "serve",
        help="the same rulings over HTTP, and the page for a browser",
        description="Serves rulings over HTTP on this machine: records, projects, batches, tables, places.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--host", default="127.0.0.1", metavar="ADDRESS", help="default: 127.0.0.1, this machine only")
    parser.add_argument("--port", type=_port, default=_PORT, metavar="N", help=f"default: {_PORT}; 0 for a free one")
    parser.add_argument(
        "--beyond-this-machine",
        action="store_true",
        help="allow an address that others can reach; there is no log-in and no encryption",
    )
    parser.add_argument(
        "--allow-host",
        metavar="NAME",
        action="append",
        default=[],
        help="a further name that requests may call the service by; may be given several times",
    )
    parser.add_argument("--allow-origin", metavar="ORIGIN", help="let the pages of this one origin use it (CORS)")
    parser.add_argument(
        "--jobs-folder",
        type=Path,
        metavar="FOLDER",
        help="keep batches taken as jobs there until they have ended; started anew, the service takes them up again",
    )
    _add_limits(parser)
    add_rulebook(parser)
    parser.set_defaults(run=run)


def _add_limits(parser: Parser) -> None:
    from yokebook_adapters.service.limits import Limits

    group = parser.add_argument_group("limits")
    for each in fields(Limits):
        kind = _at_least(each.metadata["least"], whole=isinstance(each.default, int))
        says = f"{each.metadata['says']}; default: {each.default:,}"
        group.add_argument(f"--{each.name.replace('_', '-')}", type=kind, default=each.default, metavar="N", help=says)


def _at_least(least: float, *, whole: bool) -> Any:
    def number(text: str) -> float:
        try:
            value = int(text) if whole else float(text)
        except ValueError:
            value = float("nan")
        if not least <= value < float("inf"):
            what = "whole number" if whole else "number"
            raise argparse.ArgumentTypeError(f"`{text}` is no {what} from {least:g} on")
        return value

    return number


def _port(text: str) -> int:
    if not text.isdecimal() or int(text) >= 1 << 16:
        raise argparse.ArgumentTypeError(f"`{text}` is no port; allowed: 0 to {(1 << 16) - 1}")
    return int(text)


def run(args: argparse.Namespace) -> int:
    """Serves until a signal ends it; returns 0. Raises Stopped where it cannot."""
    _must_be_able_to()
    caution = _caution(args)
    from yokebook_adapters.command_line.session import load_rulebook
    from yokebook_adapters.service.serving import serve

    limits = _limits(args)
    listening = _listening(args.host, args.port)
    with listening:
        kept = _kept(args.jobs_folder)
        rulebook = load_rulebook(args.rulebook)
        if caution:
            _say(caution)
        hosts = [args.host, *args.allow_host]
        serve(rulebook, limits, listening, hosts, args.allow_origin, kept, _say)
    return 0


def _kept(folder: Path | None) -> Kept | None:
    from yokebook_adapters.service.kept import Kept

    try:
        return None if folder is None else Kept(folder)
    except OSError as fault:
        raise Stopped(f"--jobs-folder: {folder} cannot be used: {fault.strerror}") from None


def _say(text: str) -> None:
    print(f"yokebook: {text}", file=sys.stderr, flush=True)


def _must_be_able_to() -> None:
    """Raises Stopped where something is missing."""
    missing = [name for name in _NEEDS if importlib.util.find_spec(name) is None]
    if missing:
        raise UsageFault(
            f"`yokebook serve` needs {', '.join(name.replace('_', '-') for name in missing)}; install it with "
            "`pip install 'yokebook[service]'`"
        )
    if not hasattr(signal, "setitimer"):
        raise Stopped(
            "`yokebook serve` needs Linux, macOS or another Unix, whose timers stop a ruling that takes too long; on "
            "Windows, run it in the Linux subsystem. All other commands run here too"
        )


def _caution(args: argparse.Namespace) -> str:
    """What to say of an address that others can reach. Raises UsageFault where nobody said that it may be one."""
    if _is_loopback(args.host):
        return ""
    what = f"`{args.host}` can be reached from other machines; there is no log-in and no encryption"
    if not args.beyond_this_machine:
        raise UsageFault(f"{what}; give --beyond-this-machine if that is meant, best behind a proxy that has both")
    return f"caution: {what}"


def _is_loopback(host: str) -> bool:
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def _limits(args: argparse.Namespace) -> Limits:
    from yokebook.load.nodes import DEPTH_LIMIT
    from yokebook_adapters.service.limits import Limits

    if args.depth > DEPTH_LIMIT:
        raise UsageFault(f"--depth: {args.depth} is too deep; allowed: at most {DEPTH_LIMIT}")
    return Limits(**{each.name: getattr(args, each.name) for each in fields(Limits)})


def _listening(host: str, port: int) -> socket.socket:
    try:
        found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
        made = socket.socket(found[0], found[1])
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        made.bind(found[4])
        made.listen(128)
    except OSError as fault:
        raise Stopped(f"cannot serve at {host}, port {port}: {fault.strerror}") from None
    return made
