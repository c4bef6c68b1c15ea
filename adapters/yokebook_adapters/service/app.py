"""The service as an ASGI application."""

from __future__ import annotations

from collections.abc import AsyncIterator, Collection
from contextlib import asynccontextmanager
from pathlib import Path

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.middleware.cors import CORSMiddleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Mount, Route
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

from yokebook_adapters.service.answers import Refusal
from yokebook_adapters.service.endpoints import Endpoints
from yokebook_adapters.service.guarding import LOOPBACK, Guard
from yokebook_adapters.service.operations import OPERATIONS
from yokebook_adapters.service.problems import Problem
from yokebook_adapters.service.service import Service

#: The page for browsers, where there is one.
PAGE = Path(__file__).parents[1] / "page"


def make_app(
    service: Service, hosts: Collection[str] = LOOPBACK, origin: str | None = None, page: Path = PAGE
) -> Starlette:
    """The application. `hosts` are the names that it goes by, `origin` the one origin whose pages may use it too,
    `page` the folder of static files that it serves where there is one."""
    endpoints = Endpoints(service)
    routes: list[BaseRoute] = [
        # a place's id has slashes in it
        Route(
            operation.path.replace("{place}", "{place:path}"),
            endpoints.of(operation),
            methods=[operation.method],
            name=operation.id,
        )
        for operation in OPERATIONS
    ]
    if page.is_dir():
        routes.append(Mount("/", _Asked(directory=page, html=True)))

    @asynccontextmanager
    async def lifespan(app: Starlette) -> AsyncIterator[None]:
        async with service.running():
            yield

    middleware = [Middleware(Guard, service.limits, service.digest, hosts, origin is not None)]
    if origin is not None:
        middleware.append(
            Middleware(
                CORSMiddleware,
                allow_origins=[origin],
                allow_methods=["GET", "POST", "DELETE"],
                allow_headers=["Content-Type", "If-None-Match", "X-Request-Id"],
                expose_headers=["ETag", "Location", "Retry-After", "X-Request-Id", "Yokebook-Rulebook"],
            )
        )
    return Starlette(
        routes=routes,
        middleware=middleware,
        exception_handlers={Problem: _problem, HTTPException: _http},
        lifespan=lifespan,
    )


class _Asked(StaticFiles):
    """Files that a browser asks for anew each time, which costs a line where they are the same. Left to itself it keeps
    them for a tenth of their age, each for another time, and runs old parts of a page with new ones."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        """The file, or that it is the same."""
        answer = await super().get_response(path, scope)
        answer.headers["Cache-Control"] = "no-cache"
        return answer


async def _problem(request: Request, problem: Exception) -> Response:
    assert isinstance(problem, Problem)
    return Refusal(problem, request.scope["arrival"])


async def _http(request: Request, raised: Exception) -> Response:
    """What the router and the static files raise, as the problem that it is."""
    assert isinstance(raised, HTTPException)
    # a path of the service with another method comes to the static files, which know nothing of it
    methods = _methods(request)
    if raised.status_code == 405 or (methods and request.method not in methods):
        allow = ", ".join(methods) or "GET, HEAD"
        problem = Problem("wrong-method", f"Allowed here: {allow}.", headers={"Allow": allow})
    else:
        problem = Problem("not-found", "There is nothing at this path; /v1/openapi.json lists every path.")
    return Refusal(problem, request.scope["arrival"])


def _methods(request: Request) -> list[str]:
    """Every method that some route of this path takes; none where it is a static file or nothing."""
    found: dict[str, None] = {}
    for route in request.app.routes:
        if isinstance(route, Route) and route.path_regex.match(request.url.path):
            found.update(dict.fromkeys(sorted(route.methods or ())))
    return list(found)
