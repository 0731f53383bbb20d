"""What a memo carries so that it can be made again, and making it again from that.

The page holds the study as given (kit.study.given), its hash and the names and hashes of its data
files; the data itself only where that was asked for, since a year of meter readings is private.
"""

from __future__ import annotations

import base64
import gzip
import hashlib
import html.parser
import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from kit.save import ensure_folder, write_bytes, write_text
from kit.study import Study, read_study
from kit.study.given import given, study_text

MARK = "study-parameters"
FORM = "ridethrough memo 1"
STUDY_FILE = "study.yaml"


class FromError(Exception):
    """A memo cannot be made again from this file; the text says why, in one line."""


@dataclass(frozen=True)
class Carried:
    """What a memo's page carries. `data_files`: name below ROOT -> sha256; `data`: name -> bytes."""

    study: dict[str, Any]
    sha256: str
    kit_version: str
    data_files: dict[str, str]
    data: dict[str, bytes]


def carried_by(study: Study, with_data: bool = False) -> dict[str, Any]:
    """The JSON that a page carries: the study, its hash, its data files' hashes, perhaps the data."""
    import kit

    values: dict[str, Any] = {
        "form": FORM,
        "kit_version": kit.__version__,
        "sha256": study.sha256,
        "data_files": study.data_files,
        "study": given(study),
        "resolved": study.resolved,
    }
    if with_data:
        values["data"] = {name: _packed((study.root / name).read_bytes()) for name in study.data_files}
    return values


def _packed(data: bytes) -> str:
    return base64.b64encode(gzip.compress(data, mtime=0)).decode("ascii")


class _Finder(html.parser.HTMLParser):
    """Collects the text of the one script that carries the study."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=False)
        self.inside = False
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.inside = tag == "script" and dict(attrs).get("id") == MARK

    def handle_endtag(self, tag: str) -> None:
        self.inside = False

    def handle_data(self, data: str) -> None:
        if self.inside:
            self.text += data


def read_carried(memo: Path) -> Carried:
    """What the page `memo` carries. FromError, in one line, for a file that is no memo of ours."""
    try:
        text = memo.read_text(encoding="utf-8")
    except OSError as error:
        raise FromError(f"{memo}: cannot be read: {error.strerror or error}") from error
    except UnicodeDecodeError:
        raise FromError(f"{memo}: not a memo made by ridethrough: it is not a text file") from None
    finder = _Finder()
    finder.feed(text)
    if not finder.text:
        raise FromError(f"{memo}: not a memo made by ridethrough: no study inside")
    try:
        values = json.loads(finder.text)
        return _checked(values)
    except (ValueError, KeyError, TypeError, AttributeError, EOFError, gzip.BadGzipFile) as error:
        raise FromError(f"{memo}: the study inside cannot be read: {error}") from error


def _checked(values: dict[str, Any]) -> Carried:
    if values["form"] != FORM:
        raise ValueError(f"it is {values['form']!r}; this kit reads {FORM!r}")
    names = {str(name): str(digest) for name, digest in values["data_files"].items()}
    data = {}
    for name, packed in values.get("data", {}).items():
        data[name] = gzip.decompress(base64.b64decode(packed, validate=True))
    for name in {*names, *data}:
        parts = PurePosixPath(name).parts
        if not parts or PurePosixPath(name).is_absolute() or ".." in parts or "\\" in name or ":" in name:
            raise ValueError(f"{name!r} is no name of a data file")
    if not isinstance(values["study"], dict):
        raise ValueError("the study is no block of keys")
    return Carried(values["study"], str(values["sha256"]), str(values["kit_version"]), names, data)


def restore(memo: Path, folder: Path, roots: Sequence[Path]) -> tuple[Path, str]:
    """Write the study of `memo` and its data files into the new or empty `folder`.

    Data that the memo does not hold is looked for below `roots`, by its name and by its sha256.
    Returns the study file, and a warning where this kit reads the study as another one (else '').
    Nothing is written before all data is found. Raises FromError, SaveError.
    """
    carried = read_carried(memo)
    if folder.is_dir() and any(folder.iterdir()):
        raise FromError(f"{folder}: is not empty; name a new folder with --out")
    found = {name: _data(carried, name, digest, roots) for name, digest in carried.data_files.items()}
    missing = [words for name in found if (words := found[name]) and isinstance(words, str)]
    if missing:
        raise FromError("; ".join(str(m) for m in missing))
    ensure_folder(folder)
    for name, data in found.items():
        assert isinstance(data, bytes)
        write_bytes(folder / name, data)
    file = write_text(folder / STUDY_FILE, study_text(carried.study))
    return file, _same_study(file, carried)


def _data(carried: Carried, name: str, digest: str, roots: Sequence[Path]) -> bytes | str:
    """The bytes of a data file, or what is missing and where it was looked for."""
    tried = []
    if name in carried.data:
        if _sha256(carried.data[name]) == digest:
            return carried.data[name]
        tried.append("inside the memo, where it is damaged")
    for root in roots:
        for file in dict.fromkeys((root / name, root / PurePosixPath(name).name)):
            try:
                data = file.read_bytes()
            except OSError:
                tried.append(f"at {file}")
                continue
            if _sha256(data) == digest:
                return data
            tried.append(f"at {file}, which has another content")
    looked = ", ".join(tried)
    return (
        f"data file {name} (sha256 {digest}) is not in the memo; looked {looked}. "
        "Say where it lies with --root DIR"
    )


def _sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _same_study(file: Path, carried: Carried) -> str:
    import kit

    again = read_study(file).sha256
    if again == carried.sha256:
        return ""
    return (
        f"{file}: this kit ({kit.__version__}) reads it as study {again[:12]}, the memo was made of "
        f"{carried.sha256[:12]} by {carried.kit_version}: figures may differ"
    )
