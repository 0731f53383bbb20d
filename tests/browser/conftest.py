"""The one browser of a test file."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from tests.browser.chromium import browser


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    with browser() as running:
        yield running
