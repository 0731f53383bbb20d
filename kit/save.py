"""The one place that writes files: whole, or not at all.

A file is written beside its final place, flushed to the disk, then renamed over it. When
anything fails on the way (a full disk, a killed process) the final name holds what it held
before, and the error names the file.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Sequence
from pathlib import Path


class SaveError(Exception):
    """A file could not be written; the text says which and why."""


def write_text(path: str | Path, text: str) -> Path:
    """Write `text` as UTF-8 with the line ends it has. Returns the path; raises SaveError."""
    return write_bytes(path, text.encode("utf-8"))


def write_bytes(path: str | Path, data: bytes) -> Path:
    """Write `data` to `path`, making its folder if need be. Returns the path; raises SaveError."""
    final = Path(path)
    folder = ensure_folder(final.parent)
    temporary: Path | None = None
    try:
        descriptor, name = tempfile.mkstemp(prefix=f".{final.name}.", suffix=".part", dir=folder)
        temporary = Path(name)
        with os.fdopen(descriptor, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        temporary.chmod(_mode(final))
        os.replace(temporary, final)
    except OSError as error:
        raise SaveError(f"{final}: cannot be written: {error.strerror or error}") from error
    finally:
        if temporary is not None:
            temporary.unlink(missing_ok=True)  # gone already when all went well
    return final


def ensure_folder(folder: str | Path) -> Path:
    """The folder, made with its parents if need be. SaveError where a file stands in its place."""
    path = Path(folder)
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise SaveError(
            f"{path}: cannot be used as a folder: {error.strerror or error}; name another folder"
        ) from error
    return path


def open_folder(folder: str | Path, names: Sequence[str] = ()) -> Path:
    """The folder, made if need be, once a file could be made in it: before work that would be lost.

    `names`: the files to come. SaveError where nothing can be written, or a folder has such a name.
    """
    path = ensure_folder(folder)
    try:
        descriptor, trial = tempfile.mkstemp(prefix=".trial.", suffix=".part", dir=path)
        os.close(descriptor)
        os.unlink(trial)
    except OSError as error:
        raise SaveError(
            f"{path}: no file can be written into this folder: {error.strerror or error}; name another folder"
        ) from error
    for name in names:
        if (path / name).is_dir():
            raise SaveError(
                f"{path / name}: a folder has the name of a file to be written; name another folder"
            )
    return path


def cache_folder() -> Path:
    """RIDETHROUGH_CACHE where set, else the user's own cache folder."""
    told = os.environ.get("RIDETHROUGH_CACHE")
    if told:
        return Path(told)
    base = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA")
    return (Path(base) if base else Path.home() / ".cache") / "ridethrough"


def _mode(final: Path) -> int:
    """Permissions of the file that is replaced, else what a plain new file would get."""
    try:
        return final.stat().st_mode & 0o7777
    except OSError:
        mask = os.umask(0)
        os.umask(mask)
        return 0o666 & ~mask
