"""JupyterLab at the explore notebook, with nothing asked of the network."""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from collections.abc import Sequence
from pathlib import Path

from kit.save import ensure_folder, write_text
from kit.shipped import PARTS, shipped

NOTEBOOK = "notebooks/explore.ipynb"
FOLDER = Path("ridethrough-lab")
NEWS_PLUGIN = "@jupyterlab/apputils-extension:announcements"
QUIET = (
    "--LabApp.news_url=None",
    "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
    "--LabApp.extension_manager=readonly",
)


def lab_folder(folder: Path | None = None) -> Path:
    """Where to work: the clone itself, or a folder with copies of the shipped notebooks and parameters.

    `folder`: copies go there. Without it a clone that may be written to is used as it stands, else
    ./ridethrough-lab. A part that is there already is left as it is. Raises SaveError.
    """
    source = shipped()
    in_clone = source.name != "_shipped" and all(os.access(source / part, os.W_OK) for part in PARTS)
    if folder is None and in_clone:
        return source
    place = ensure_folder((folder or FOLDER).absolute())
    for part in PARTS:
        if not (place / part).exists():
            _copy(source / part, place / part)
    return place


def _copy(source: Path, final: Path) -> None:
    """Copy a folder whole: under another name first, files made writable."""
    part = final.with_name(f".{final.name}.part")
    shutil.rmtree(part, ignore_errors=True)
    ignored = shutil.ignore_patterns(".ipynb_checkpoints", "__pycache__")
    shutil.copytree(source, part, ignore=ignored, copy_function=shutil.copyfile)
    for folder, _, _ in os.walk(part):
        os.chmod(folder, 0o755)
    os.replace(part, final)


def lab_arguments(folder: Path, more: Sequence[str] = ()) -> list[str]:
    """What JupyterLab is started with."""
    return [
        f"--ServerApp.root_dir={folder}",
        f"--LabApp.default_url=/lab/tree/{NOTEBOOK}",
        *QUIET,
        *more,
    ]


def open_lab(folder: Path, more: Sequence[str] = ()) -> None:
    """Start JupyterLab on the folder and stay until it is stopped."""
    with tempfile.TemporaryDirectory(prefix="ridethrough-lab-") as quiet:
        os.environ["JUPYTER_CONFIG_PATH"] = config_path(Path(quiet), os.environ.get("JUPYTER_CONFIG_PATH"))
        from jupyterlab.labapp import LabApp  # type: ignore[import-untyped]

        LabApp.launch_instance(argv=lab_arguments(folder, more))


def config_path(folder: Path, already: str | None) -> str:
    """A search path for settings whose first folder has JupyterLab ask nobody about news.

    The flags alone stop the fetching; the question itself is a plugin's.
    """
    settings = {"disabledExtensions": {NEWS_PLUGIN: True}}
    write_text(folder / "labconfig" / "page_config.json", json.dumps(settings))
    return os.pathsep.join([str(folder), *([already] if already else [])])
