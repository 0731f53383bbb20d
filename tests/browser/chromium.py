"""Headless Chromium with the network cut, and what it saw of a page."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

PROBE = (Path(__file__).parent / "page_probe.js").read_text(encoding="utf-8")
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]


@dataclass
class Seen:
    """Console errors, requests that left the file, and the open page."""

    page: Any
    errors: list[str] = field(default_factory=list)
    requests: list[str] = field(default_factory=list)

    def probe(self) -> dict[str, Any]:
        found: dict[str, Any] = self.page.evaluate(PROBE)
        return found


@contextmanager
def browser() -> Iterator[Any]:
    """A running Chromium; the test is skipped, loudly, where there is none."""
    path = shutil.which("chromium")
    if path is None:
        pytest.skip(
            "NO CHROMIUM: pages were NOT looked at in a browser; install it (apt-get install chromium)"
        )
    sync = pytest.importorskip("playwright.sync_api", reason="NO PLAYWRIGHT: pages were NOT looked at")
    with sync.sync_playwright() as play:
        chromium = play.chromium.launch(executable_path=path, args=FLAGS)
        try:
            yield chromium
        finally:
            chromium.close()


def at_home(page: Any, *served: str) -> list[str]:
    """Keep a page on this machine: the list fills with the addresses it asked for elsewhere.

    `served`: beginnings of the addresses it may ask for; without them, those of this machine's servers.
    """
    strangers: list[str] = []
    mine = (*(served or ("http://127.0.0.1:",)), "data:", "blob:")

    def route(handler: Any) -> None:
        if handler.request.url.startswith(mine):
            handler.continue_()
        else:
            strangers.append(handler.request.url)
            handler.abort()

    page.route("**/*", route)
    return strangers


@contextmanager
def opened(chromium: Any, file: Path, width: int) -> Iterator[Seen]:
    """The page at a width, drawn."""
    context = chromium.new_context(viewport={"width": width, "height": 900})
    context.set_offline(True)
    page = context.new_page()
    seen = Seen(page)
    page.on("console", lambda m: seen.errors.append(m.text) if m.type == "error" else None)
    page.on("pageerror", lambda e: seen.errors.append(str(e)))
    seen.requests = at_home(page, "file:")
    try:
        page.goto(file.as_uri())
        page.wait_for_selector("html[data-drawn]", timeout=60_000)
        yield seen
    finally:
        context.close()
