"""What the contract tests read: the kit's own files as text and as syntax trees."""

from __future__ import annotations

import ast
import subprocess
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
KIT_FILES = sorted(p for p in (ROOT / "kit").rglob("*.py") if "_shipped" not in p.parts)
NOTEBOOKS = sorted(p for p in (ROOT / "notebooks").rglob("*.ipynb") if ".ipynb_checkpoints" not in p.parts)


@cache
def tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"), filename=str(path))


def module_name(path: Path) -> str:
    """`kit/house/load.py` -> `kit.house.load`; a package's file is the package."""
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def label(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def imported_modules(path: Path) -> list[tuple[int, str]]:
    """Line and dotted name of every module a file imports, at the top or inside a function."""
    found = []
    for node in ast.walk(tree(path)):
        if isinstance(node, ast.Import):
            found += [(node.lineno, alias.name) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{label(path)}:{node.lineno}: write the whole name of the module"
            assert node.module is not None
            if node.module == "kit":
                found += [(node.lineno, f"kit.{alias.name}") for alias in node.names]
            else:
                found.append((node.lineno, node.module))
    return found


def tracked_files() -> list[str]:
    """Files of the project: those git knows, or all that stand there where git is absent (a plain copy)."""
    if (ROOT / ".git").exists():
        command = ["git", "-c", "safe.directory=*", "ls-files", "--cached", "--others", "--exclude-standard"]
        return subprocess.run(
            command, cwd=ROOT, capture_output=True, text=True, check=True
        ).stdout.splitlines()
    made = {
        ".venv",
        ".ipynb_checkpoints",
        ".pytest_cache",
        ".mypy_cache",
        ".ruff_cache",
        ".hypothesis",
        "out",
        "__pycache__",
    }
    return [
        label(p) for p in ROOT.rglob("*") if p.is_file() and not made.intersection(p.relative_to(ROOT).parts)
    ]
