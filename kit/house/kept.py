"""Weather and solar output of earlier runs, kept as numbers in the user's cache folder.

What a sky gives to a house is a pure function of files and settings, while the library that works
it out takes longer to load than to run. A result is kept under a hash of all that it is made from:
the caller's key, the text of every file of kit/house, and the versions of the libraries. A file
that cannot be read, or is damaged, is made again; where none can be written, nothing is kept.
"""

from __future__ import annotations

import hashlib
import io
import zipfile
from collections.abc import Callable
from contextlib import suppress
from functools import lru_cache
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np

from kit.save import SaveError, cache_folder, write_bytes

MOST_FILES = 200  # about 0.4 MB each at most with hourly steps; the oldest go first
LIBRARIES = ("numpy", "pandas", "pvlib")

Arrays = dict[str, np.ndarray]


def kept(name: str, key: tuple[str | bytes | np.ndarray, ...], make: Callable[[], Arrays]) -> Arrays:
    """The arrays that `make` gives, from an earlier run where there was one.

    Args:
        name: of the kind of result; letters, for the file's name.
        key: EVERYTHING the result is made from but code: settings as text, bytes of files, arrays.
        make: gives named arrays of numbers or text.
    """
    path = cache_folder() / "house" / f"{name}-{_hash(key)}.npz"
    found = _read(path)
    if found is None:
        found = make()
        _write(path, found)
    return found


def _hash(key: tuple[str | bytes | np.ndarray, ...]) -> str:
    digest = hashlib.sha256(_code())
    for part in key:
        if isinstance(part, np.ndarray):
            digest.update(f"{part.dtype.str}{part.shape}".encode())
            part = np.ascontiguousarray(part).tobytes()
        data = part.encode() if isinstance(part, str) else part
        digest.update(f"{type(part).__name__}{len(data)}:".encode() + data)
    return digest.hexdigest()[:40]


@lru_cache(maxsize=1)
def _code() -> bytes:
    """What the code of this folder and its libraries is."""
    digest = hashlib.sha256()
    for path in sorted(Path(__file__).parent.glob("*.py")):
        digest.update(path.name.encode() + hashlib.sha256(path.read_bytes()).digest())
    for name in LIBRARIES:
        digest.update(f"{name} {version(name)}".encode())
    return digest.digest()


def _read(path: Path) -> Arrays | None:
    try:
        with np.load(path, allow_pickle=False) as file:
            return {name: file[name] for name in file.files}
    except (OSError, ValueError, EOFError, zipfile.BadZipFile):
        return None


def _write(path: Path, arrays: Arrays) -> None:
    buffer = io.BytesIO()
    given: dict[str, Any] = arrays
    np.savez(buffer, **given)
    with suppress(OSError, SaveError):
        write_bytes(path, buffer.getvalue())
        files = sorted(path.parent.glob("*.npz"), key=lambda p: p.stat().st_mtime)
        for old in files[:-MOST_FILES]:
            old.unlink(missing_ok=True)
