"""The pictures of the README, drawn anew: ``python -m tests.browser.pictures``.

The first screens of the memo of the metered house, as a browser 1280 px wide shows them.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from kit.report.run import write_memo
from kit.save import ensure_folder
from tests.browser.chromium import browser, opened
from tests.contract.sources import ROOT

STUDY = ROOT / "params" / "studies" / "metered_house.yaml"
PICTURE = ROOT / ".readme" / "memo.png"
WIDTH_PX, HEIGHT_PX = 1280, 1250
MOST_BYTES = 200_000


def main() -> None:
    """Write the memo, look at it, keep its head as a picture."""
    ensure_folder(PICTURE.parent)
    with tempfile.TemporaryDirectory() as folder, browser() as chromium:
        memo = write_memo(STUDY, Path(folder))
        with opened(chromium, memo.html, WIDTH_PX) as seen:
            clip = {"x": 0, "y": 0, "width": WIDTH_PX, "height": HEIGHT_PX}
            seen.page.screenshot(path=PICTURE, full_page=True, clip=clip)
    size = PICTURE.stat().st_size
    if size > MOST_BYTES:
        raise SystemExit(f"{PICTURE} has {size:,} bytes, more than {MOST_BYTES:,}: lower HEIGHT_PX")
    print(f"{PICTURE.relative_to(ROOT)}: {size:,} bytes", file=sys.stderr)


if __name__ == "__main__":
    main()
