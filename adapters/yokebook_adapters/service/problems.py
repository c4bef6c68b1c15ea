"""What is wrong with a request, as application/problem+json (RFC 9457)."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

MEDIA_TYPE = "application/problem+json"
PATH = "/v1/problems/"

#: Every kind of problem: its status, its title, and what to do about it.
KINDS: Mapping[str, tuple[int, str, str]] = {
    "not-json": (
        400,
        "The body is not JSON",
        "Send JSON as RFC 8259 has it, in UTF-8, without a repeated key and not nested too deep.",
    ),
    "bad-query": (400, "The query cannot be used", "Correct the parameters named; each says what is allowed."),
    "not-http": (400, "The request is not HTTP", "Send HTTP/1.1."),
    "not-found": (404, "There is no such thing here", "See the OpenAPI document for paths, and the lists for ids."),
    "wrong-method": (405, "This path does not take that method", "Use a method that the header `Allow` names."),
    "too-slow": (408, "The request came too slowly", "Send the head and the body without long breaks."),
    "too-large": (413, "The body is larger than is allowed", "Send less at a time, or raise the limit of the service."),
    "wrong-type": (415, "The body is of another type", "Send the type that the OpenAPI document names."),
    "wrong-host": (
        421,
        "The service does not go by that name",
        "Use the address that it printed, or start it with `--allow-host NAME`.",
    ),
    "refused": (422, "The input is refused", "Correct the fields named; each says what was found and what is allowed."),
    "too-long": (422, "The ruling was stopped", "Give more facts or ask for less, or raise the limit of the service."),
    "failed": (500, "The service failed", "The fault is the service's own; its log has more under the request's id."),
    "too-busy": (503, "The service is busy", "Try again after the seconds that the header `Retry-After` says."),
    "stopping": (503, "The service is about to end", "Try again once it is there again."),
}


class Problem(Exception):
    """A request that is refused. `errors` has one entry for each fault."""

    def __init__(
        self,
        kind: str,
        detail: str,
        errors: Sequence[Mapping[str, Any]] = (),
        headers: Mapping[str, str] | None = None,
    ) -> None:
        super().__init__(detail)
        self.kind = kind
        self.detail = detail
        self.errors = [dict(error) for error in errors]
        self.headers = dict(headers or {})

    @property
    def status(self) -> int:
        """The status code."""
        return KINDS[self.kind][0]

    def data(self) -> dict[str, Any]:
        """The problem as JSON-able data."""
        status, title, _ = KINDS[self.kind]
        made: dict[str, Any] = {"type": f"{PATH}{self.kind}", "title": title, "status": status, "detail": self.detail}
        return made | ({"errors": self.errors} if self.errors else {})

    def __reduce__(self) -> tuple[Any, ...]:
        return Problem, (self.kind, self.detail, self.errors, self.headers)


def json_bytes(data: object) -> bytes:
    """Data as the service sends it: keys as they come, no number that JSON does not have, UTF-8."""
    return json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode()


def told(errors: Sequence[Mapping[str, Any]]) -> str:
    """How many faults there are, in words."""
    return "1 fault" if len(errors) == 1 else f"{len(errors)} faults"
