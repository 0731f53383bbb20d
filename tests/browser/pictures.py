"""The pictures of the README, drawn anew: ``python -m tests.browser.pictures [memo page explore]``.

The memo's first screen and a household's page as a browser shows them, and the explore notebook in
a JupyterLab that is really started, its update and news checks off. Nothing reaches the network.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from kit.report.page import write_page
from kit.report.run import write_memo
from kit.save import ensure_folder
from tests.browser.chromium import at_home, browser, opened
from tests.browser.lab import lab_server, run_all
from tests.contract.sources import ROOT

STUDIES = ROOT / "params" / "studies"
FOLDER = ROOT / ".readme"
WIDTH_PX = 1280
MOST_BYTES = 300_000


def memo(chromium: Any, work: Path, picture: Path) -> None:
    """The head of the memo of the metered house, down to what would change the answer."""
    made = write_memo(STUDIES / "metered_house.yaml", work)
    _head(chromium, made.html, picture, "#part-3")


def page(chromium: Any, work: Path, picture: Path) -> None:
    """The head of the farm house's page: its answer, its curve and its sliders."""
    _head(chromium, write_page(STUDIES / "farm_house.yaml", work), picture, "section.all")


def explore(chromium: Any, work: Path, picture: Path) -> None:
    """The explore notebook after a run, its controls and the answer, in a screen of its own height."""
    with lab_server(work / "lab") as address:
        shown = chromium.new_page(viewport={"width": WIDTH_PX, "height": 1240})
        strangers = at_home(shown)
        run_all(shown, address)
        shown.keyboard.press("Control+b")  # the file browser aside
        shown.locator(".jp-Cell:has(h1:has-text('Try it'))").evaluate("cell => cell.scrollIntoView(true)")
        shown.wait_for_timeout(1500)
        shown.screenshot(path=picture)
        shown.close()
    if strangers:
        raise SystemExit(f"JupyterLab asked the network for {strangers}")


def _head(chromium: Any, file: Path, picture: Path, before: str) -> None:
    """The page down to the first element that `before` selects, so that no line is cut in two."""
    with opened(chromium, file, WIDTH_PX) as seen:
        height_px = seen.page.locator(before).first.bounding_box()["y"]
        clip = {"x": 0, "y": 0, "width": WIDTH_PX, "height": height_px}
        seen.page.screenshot(path=picture, full_page=True, clip=clip)


PICTURES: dict[str, Callable[[Any, Path, Path], None]] = {"memo": memo, "page": page, "explore": explore}


def main(names: Sequence[str]) -> None:
    """Draw the pictures named, or all; each must stay small."""
    unknown = set(names) - set(PICTURES)
    if unknown:
        raise SystemExit(f"no picture {', '.join(sorted(unknown))}; there are {', '.join(PICTURES)}")
    ensure_folder(FOLDER)
    for name in names or PICTURES:
        picture = FOLDER / f"{name}.png"
        with tempfile.TemporaryDirectory() as work, browser() as chromium:
            PICTURES[name](chromium, Path(work), picture)
        size = picture.stat().st_size
        if size > MOST_BYTES:
            raise SystemExit(f"{picture} has {size:,} bytes, more than {MOST_BYTES:,}: show less of it")
        print(f"{picture.relative_to(ROOT)}: {size:,} bytes", file=sys.stderr)


if __name__ == "__main__":
    main(sys.argv[1:])
