"""The notebooks and example parameters that come with the kit, in a clone or in a wheel."""

from __future__ import annotations

import os
import shutil
import tempfile
from pathlib import Path

PARTS = ("notebooks", "params")


def shipped() -> Path:
    """Folder that holds `notebooks/` and `params/`: inside an installed wheel, else the clone.

    Raises FileNotFoundError when neither is there (a copy of kit/ alone).
    """
    package = Path(__file__).resolve().parent
    for folder in (package / "_shipped", package.parent):
        if all((folder / part).is_dir() for part in PARTS):
            return folder
    raise FileNotFoundError(f"no notebooks/ and params/ beside {package} or inside it: reinstall ridethrough")


def start(folder: Path) -> list[Path]:
    """Copy the shipped parameter files into `folder`, which must be absent or empty.

    The copy is made beside the folder and moved in place once it is whole, so an
    interrupted run leaves nothing behind under that name. Returns the study files,
    sorted. Raises FileExistsError when the folder holds anything, NotADirectoryError
    when a file stands there.
    """
    folder = folder.absolute()
    if folder.exists() and not folder.is_dir():
        raise NotADirectoryError(f"{folder} is a file; give the name of a new or empty folder")
    if folder.is_dir() and any(folder.iterdir()):
        raise FileExistsError(f"{folder} is not empty; give the name of a new or empty folder")
    folder.parent.mkdir(parents=True, exist_ok=True)
    copy = Path(tempfile.mkdtemp(prefix=f".{folder.name}.", dir=folder.parent))
    try:
        shutil.copytree(shipped() / "params", copy, dirs_exist_ok=True)
        copy.chmod(0o777 & ~_umask())
        os.replace(copy, folder)
    except BaseException:
        shutil.rmtree(copy, ignore_errors=True)
        raise
    return sorted((folder / "studies").glob("*.yaml"))


def _umask() -> int:
    """The process's file mode mask (it can be read only by setting it)."""
    mask = os.umask(0)
    os.umask(mask)
    return mask
