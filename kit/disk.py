"""Results of earlier runs, kept as numbers in the user's cache folder.

What a sky gives to a house, and what outages take from an option, are pure functions of files and
settings. A result is kept under a hash of all that it is made from: the caller's key, the text of
the code that made it, and the versions of the libraries. A file that cannot be read, or is damaged,
is made again; where none can be written, nothing is kept.
"""

from __future__ import annotations

import hashlib
import io
import os
import zipfile
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from functools import lru_cache
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np

from kit.save import SaveError, cache_folder, write_bytes

MOST_FILES = 200  # of a house's results, about 0.4 MB each at most with hourly steps; the oldest go first
MOST_ROWS = 2000  # of other parts' results, a few kB each
HOUSE_LIBRARIES = ("numpy", "pandas", "pvlib")
LIBRARIES = (*HOUSE_LIBRARIES, "scipy", "numba", "highspy", "rainflow")
KIT = Path(__file__).parent

Arrays = dict[str, np.ndarray]
Key = tuple[str | bytes | np.ndarray, ...]


def kept(part: str, name: str, key: Key, make: Callable[[], Arrays]) -> Arrays:
    """The arrays that `make` gives, from an earlier run where there was one.

    Args:
        part: `house`, whose results the code of kit/house alone makes, or another folder of the kit,
            whose results all of the kit may make.
        name: of the kind of result; letters, for the file's name.
        key: EVERYTHING the result is made from but code: settings as text, bytes of files, arrays.
        make: gives named arrays of numbers or text.
    """
    return kept_each(part, name, {"": key}, lambda _: {"": make()})[""]


def kept_each(
    part: str, name: str, keys: Mapping[str, Key], make: Callable[[Sequence[str]], Mapping[str, Arrays]]
) -> dict[str, Arrays]:
    """`kept` for several results of one kind, by key: `make` gives those not found, asked for at once."""
    folder = cache_folder() / part
    paths = {one: folder / f"{name}-{_hash(key, part)}.npz" for one, key in keys.items()}
    found = {one: arrays for one, path in paths.items() if (arrays := _read(path)) is not None}
    missing = [one for one in keys if one not in found]
    made = make(missing) if missing else {}
    for one in missing:
        found[one] = made[one]
        _write(paths[one], made[one], MOST_FILES if part == "house" else MOST_ROWS)
    return {one: found[one] for one in keys}


def _hash(key: Key, part: str) -> str:
    digest = hashlib.sha256(_code(part))
    for one in key:
        if isinstance(one, np.ndarray):
            digest.update(f"{one.dtype.str}{one.shape}".encode())
            one = np.ascontiguousarray(one).tobytes()
        data = one.encode() if isinstance(one, str) else one
        digest.update(f"{type(one).__name__}{len(data)}:".encode() + data)
    return digest.hexdigest()[:40]


@lru_cache(maxsize=8)
def _code(part: str) -> bytes:
    """What the code behind a part and its libraries is."""
    digest = hashlib.sha256()
    alone = part == "house"
    for path in sorted((KIT / part if alone else KIT).rglob("*.py")):
        digest.update(path.relative_to(KIT).as_posix().encode() + hashlib.sha256(path.read_bytes()).digest())
    for name in HOUSE_LIBRARIES if alone else LIBRARIES:
        digest.update(f"{name} {version(name)}".encode())
    return digest.digest()


def _read(path: Path) -> Arrays | None:
    try:
        with np.load(path, allow_pickle=False) as file:
            return {name: file[name] for name in file.files}
    except (OSError, ValueError, EOFError, zipfile.BadZipFile):
        return None


def _write(path: Path, arrays: Arrays, most: int) -> None:
    buffer = io.BytesIO()
    given: dict[str, Any] = arrays
    np.savez(buffer, **given)
    with suppress(OSError, SaveError):
        write_bytes(path, buffer.getvalue())
        if len(os.listdir(path.parent)) > most:
            files = sorted(path.parent.glob("*.npz"), key=lambda p: p.stat().st_mtime)
            for old in files[:-most]:
                old.unlink(missing_ok=True)
