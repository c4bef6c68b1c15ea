"""A service and a browser for tests of the page, and what a person does with them."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Browser, Dialog, Locator, Page, ViewportSize, expect, sync_playwright

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "adapters" / "yokebook_adapters" / "demo"

PHONE: ViewportSize = {"width": 360, "height": 640}
DESK: ViewportSize = {"width": 1280, "height": 900}

_ARGUMENTS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip

#: Work on a busy machine may take long; nothing here measures how long.
WAIT = 60_000


def chromium() -> str | None:
    """The browser, if there is one."""
    return next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)


@contextmanager
def serving() -> Iterator[str]:
    """A service of its own; its address."""
    environment = {**os.environ, "PYTHONPATH": f"{ROOT / 'engine'}{os.pathsep}{ROOT / 'adapters'}"}
    command = [sys.executable, "-m", "yokebook_adapters.command_line.main", "serve", "--port", "0"]
    # two processes, so that the browser has one processor; long waits, since tests share it with others
    command += ["--workers", "2", "--seconds", "60", "--grace-seconds", "0", "--rulebook", str(ROOT / "rulebook")]
    # no pipe: it would fill, and the service wait for somebody to read
    with tempfile.NamedTemporaryFile() as log, subprocess.Popen(command, stderr=log, env=environment) as service:
        try:
            yield _address(service, Path(log.name))
        finally:
            service.terminate()
            service.wait(timeout=60)


def _address(service: subprocess.Popen[bytes], log: Path) -> str:
    """The address that the service prints once it is there."""
    while service.poll() is None:
        found = re.search(r"serving at (http://\S+)/", log.read_text())
        if found:
            return found[1]
        time.sleep(0.1)
    raise AssertionError(f"the service did not start: {log.read_text()}")


@contextmanager
def browsing() -> Iterator[Browser]:
    """A browser."""
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium(), args=_ARGUMENTS)
        yield browser
        browser.close()


class Visit:
    """One person at the page: `faults` is what a browser would complain of, `elsewhere` what was asked of others."""

    def __init__(self, page: Page, address: str) -> None:
        self.page = page
        self.address = address
        self.taps = 0
        self.faults: list[str] = []
        self.elsewhere: list[str] = []
        page.set_default_timeout(WAIT)
        page.on("console", lambda said: self.faults.append(said.text) if said.type in ("error", "warning") else None)
        page.on("pageerror", lambda error: self.faults.append(str(error)))
        page.on("dialog", self._told)
        page.on("request", self._asked)

    def _told(self, dialog: Dialog) -> None:
        self.faults.append(f"dialog: {dialog.message}")
        dialog.dismiss()

    def _asked(self, request: object) -> None:
        url = str(getattr(request, "url", ""))
        if not url.startswith((self.address, "blob:", "data:")):
            self.elsewhere.append(url)

    def open(self, fragment: str = "") -> None:
        """Opens the page at an address and waits for it."""
        self.page.goto("about:blank")
        self.page.goto(f"{self.address}/{fragment}")
        self.settled()

    def settled(self) -> None:
        """Waits until the page shows what its address says."""
        fragment = self.page.url.partition("#")[2]
        expect(self.page.locator("main")).to_have_attribute("data-shown", f"#{fragment}", timeout=WAIT)

    def tap(self, place: Locator) -> None:
        """One tap."""
        self.taps += 1
        place.tap()

    def press(self, name: str) -> None:
        """A tap on the button of this name that leads on."""
        before = self.page.url
        self.tap(self.page.get_by_role("button", name=name))
        self._on_from(before)

    def choose(self, says: str) -> None:
        """A tap on the choice that says so."""
        before = self.page.url
        self.tap(self.page.locator("main .choice", has_text=says).first)
        self._on_from(before)

    def _on_from(self, before: str) -> None:
        expect(self.page).not_to_have_url(before, timeout=WAIT)
        self.settled()

    def say_where(self, place: str, day: str = "") -> None:
        """Says where the job is, which takes three taps."""
        self.page.locator("#where").select_option(place)
        self.taps += 2
        if day:
            self.page.locator("#day").fill(day)
        self.press("Go on")

    def asked(self) -> str:
        """What is asked now; empty where nothing is."""
        heading = self.page.locator(".open h2")
        return heading.inner_text() if heading.count() else ""

    def outcomes(self) -> list[str]:
        """The outcomes that stand on the page."""
        return self.page.locator(".ruling .outcome").all_inner_texts()

    def drop(self, text: str, name: str = "shop.yaml") -> None:
        """Drops a project file and waits for the whole sheet."""
        self.open("#view=building")
        made = "([name, text]) => { const it = new DataTransfer(); it.items.add(new File([text], name)); return it; }"
        held = self.page.evaluate_handle(made, [name, text])
        self.page.dispatch_event(".drop", "drop", {"dataTransfer": held})
        expect(self.page.locator(".counts")).to_be_visible(timeout=WAIT)
        self.settled()

    def line(self, asks: str) -> None:
        """Opens the first ruling of the sheet that answers this, and waits for the drawing."""
        before = self.page.url
        self.tap(self.page.locator(".list a", has_text=asks).first)
        expect(self.page).not_to_have_url(before)
        expect(self.page.locator(".face svg")).to_be_visible(timeout=WAIT)
        self.settled()

    def forgive_refusals(self) -> None:
        """The browser itself reports every refusal that it is answered; the test has asked for some."""
        self.faults = [fault for fault in self.faults if not re.search("status of 4(00|22)", fault)]

    def whole(self) -> None:
        """Waits until drawing and what would change it are there."""
        expect(self.page.locator(".face svg")).to_be_visible(timeout=WAIT)
        expect(self.page.locator(".would h3").first).to_be_visible(timeout=WAIT)
