"""References: a part of a study may stand in another file inside ROOT.

`../systems/set.yaml` is the whole file, `../appliances/household.yaml#freezer` one block of it.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from kit.study.names import known_hint, nearest
from kit.study.problems import Place, Problem, problem, shown
from kit.study.sources import push_sources
from kit.study.yaml_text import Broken, Node, read_tree
from kit.units import conversion

READS_KIT_FILE = 1
MOST_REFERENCES = 5000
_ENDINGS = (".yaml", ".yml")
_TEXT_KEYS = ("file", "name", "by")


def root_of(study: Path, root: Path | None) -> Path:
    """ROOT: what `--root` says, else the parent of a folder named studies, else the study's folder."""
    if root is not None:
        return root.resolve()
    folder = study.parent.resolve()
    return folder.parent if folder.name == "studies" else folder


class Resolver:
    """Reads files inside one ROOT and puts the parts they refer to in their places."""

    def __init__(self, root: Path, problems: list[Problem]) -> None:
        self.root = root
        self.problems = problems
        self._open: list[Path] = []
        self._read: dict[Path, Node] = {}
        self._count = 0

    def study(self, file: Path) -> Node | None:
        """The whole tree of a study; `kit_file` is kept in it."""
        place = Place(file, 1, 1)
        target = self._inside(file, place, str(file))
        if target is None:
            return None
        tree = self._file(target)
        return tree if isinstance(tree.value, dict) else None

    def node(self, node: Node, folder: Path, path: str = "", key: str = "") -> Node:
        """The node with every reference below it replaced. `folder`: what references are relative to."""
        value = node.value
        if is_reference(value) and key not in _TEXT_KEYS:
            return self._part(node, folder, path)
        if isinstance(value, list):
            items = [self.node(n, folder, f"{path}.{i}") for i, n in enumerate(value)]
            return replace(node, value=items)
        if not isinstance(value, dict):
            return node
        members = {k: self.node(n, folder, f"{path}.{k}" if path else k, k) for k, n in value.items()}
        if "from" not in value or not is_reference(value["from"].value):
            return replace(node, value=members)
        base = members.pop("from")
        if not isinstance(base.value, dict):
            return base
        return merged(base, replace(node, value=members))

    def locate(self, text: str, folder: Path, place: Place, path: str) -> Path | None:
        """The real file behind a relative name, inside ROOT; None with a problem noted."""
        if Path(text).is_absolute():
            hint = "Write it relative to this file."
            self.problems.append(problem(place, path, "must not be an absolute path", text, hint))
            return None
        target = self._inside(folder / text, place, path, text)
        if target is not None and not target.is_file():
            rule = "is a folder, not a file" if target.is_dir() else "no such file"
            hint = f"Looked for {shown(target)}."
            self.problems.append(problem(place, path, rule, text, hint))
            return None
        return target

    def _inside(self, file: Path, place: Place, path: str, text: str = "") -> Path | None:
        try:
            target = file.resolve()
        except (OSError, RuntimeError, ValueError) as error:  # a loop of links, a NUL in the name
            self.problems.append(problem(place, path, f"cannot be followed: {error}", text))
            return None
        if target.is_relative_to(self.root):
            return target
        rule = f"leads outside the root folder {shown(self.root)}"
        hint = "Move the file inside, or give --root where the command takes it."
        self.problems.append(problem(place, path, rule, text or str(file), hint))
        return None

    def _part(self, node: Node, folder: Path, path: str) -> Node:
        name, _, block = node.value.partition("#")
        target = self.locate(name, folder, node.place, path)
        if target is None:
            return replace(node, value=Broken())
        if target in self._open:
            loop = " -> ".join(shown(p) for p in (*self._open[self._open.index(target) :], target))
            self.problems.append(problem(node.place, path, f"refers back to itself: {loop}"))
            return replace(node, value=Broken())
        self._count += 1
        if self._count > MOST_REFERENCES:
            if self._count == MOST_REFERENCES + 1:
                self.problems.append(problem(node.place, path, f"more than {MOST_REFERENCES} references"))
            return replace(node, value=Broken())
        tree = self._file(target)
        if isinstance(tree.value, dict):
            tree = replace(tree, value={k: v for k, v in tree.value.items() if k != "kit_file"})
        return self._block(tree, node, block, path) if block else tree

    def _block(self, tree: Node, node: Node, block: str, path: str) -> Node:
        """One block of a file, named behind a #."""
        if isinstance(tree.value, Broken):
            return tree
        if block in tree.value:
            found: Node = tree.value[block]
            return found
        close = nearest(block, tree.value)
        hint = f"Did you mean {close}?" if close else known_hint(tree.value)
        self.problems.append(problem(node.place, path, f"that file has no block {block}", node.value, hint))
        return replace(node, value=Broken())

    def _file(self, target: Path) -> Node:
        """A file's tree with its own references resolved, checked for its version; kept once read."""
        if target not in self._read:
            self._open.append(target)
            tree = read_tree(target, self.problems)
            if tree is None or not self._version(tree):
                self._read[target] = Node(Broken(), Place(target, 1, 1))
            else:
                self._read[target] = self.node(push_sources(tree, self.problems), target.parent)
            self._open.pop()
        return self._read[target]

    def _version(self, tree: Node) -> bool:
        hint = f"Begin the file with `kit_file: {READS_KIT_FILE}`."
        if not isinstance(tree.value, dict):
            rule = "a parameter file is a block of keys"
            self.problems.append(problem(tree.place, "", rule, tree.value, hint))
            return False
        version = tree.value.get("kit_file")
        if version is None:
            self.problems.append(problem(tree.place, "kit_file", "is missing", hint=hint))
            return False
        got = version.value
        if isinstance(got, int) and not isinstance(got, bool) and got > READS_KIT_FILE:
            rule = f"this file is kit_file {got}; this kit reads {READS_KIT_FILE}: install a newer kit"
            self.problems.append(problem(version.place, "kit_file", rule))
            return False
        if isinstance(got, bool) or got != READS_KIT_FILE:
            self.problems.append(problem(version.place, "kit_file", "unknown version", got, hint))
            return False
        if next(iter(tree.value)) != "kit_file":
            self.problems.append(problem(version.place, "kit_file", "must be the first key", hint=hint))
        return True


def is_reference(value: object) -> bool:
    """A text that names a parameter file."""
    return isinstance(value, str) and value.partition("#")[0].lower().endswith(_ENDINGS)


def merged(base: Node, over: Node) -> Node:
    """`base` with the keys of `over` put over it, block by block.

    A number replaces a record whole, a record a number, a list a list; `tank_gal` replaces `tank_l`.
    """
    blocks = isinstance(base.value, dict) and isinstance(over.value, dict)
    if not blocks or "likely" in over.value:
        return over
    members = dict(base.value)
    for key, node in over.value.items():
        same = [k for k in members if k == key or conversion(key, k) is not None]
        below = members[key] if same == [key] else None
        for name in same:
            if name != key:
                del members[name]
        members[key] = node if below is None else merged(below, node)
    return Node(members, base.place, base.source, base.as_of)
