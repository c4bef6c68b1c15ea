"""One service and one browser for the tests of a file."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

pytest.importorskip("playwright.sync_api", reason="the package playwright is not installed")
pytest.importorskip("starlette", reason="the service's packages are not installed")

from playwright.sync_api import Browser

from page.running import PHONE, Visit, browsing, chromium, serving


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    """Where the page is served."""
    if chromium() is None:
        pytest.skip("there is no chromium on this machine; install Debian's package `chromium`")
    with serving() as found:
        yield found


@pytest.fixture(scope="module")
def browser(address: str) -> Iterator[Browser]:
    """The browser."""
    with browsing() as found:
        yield found


@pytest.fixture
def visit(browser: Browser, address: str) -> Iterator[Visit]:
    """A person with a phone, who sees no error and whose browser asks nobody but the service."""
    context = browser.new_context(viewport=PHONE, has_touch=True, locale="en-US", accept_downloads=True)
    found = Visit(context.new_page(), address)
    yield found
    context.close()
    assert found.faults == []
    assert found.elsewhere == []
