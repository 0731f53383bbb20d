"""A compiled function calls no compiled function of another file.

Numba's disk cache looks at the caller's file only: after an edit of the callee it would serve stale code.
"""

from __future__ import annotations

import ast

from tests.contract.sources import KIT_FILES, label, module_name, tree

COMPILERS = {"compiled", "njit", "jit", "vectorize", "guvectorize", "cfunc", "stencil"}


def name_of(node: ast.expr) -> str:
    """Last name of a decorator or a call: `numba.njit(...)` -> `njit`."""
    if isinstance(node, ast.Call):
        return name_of(node.func)
    return getattr(node, "attr", getattr(node, "id", ""))


def compiled_functions(module: ast.Module) -> list[ast.FunctionDef]:
    return [
        node
        for node in ast.walk(module)
        if isinstance(node, ast.FunctionDef) and COMPILERS & {name_of(d) for d in node.decorator_list}
    ]


def calls_across_files(trees: dict[str, ast.Module]) -> list[str]:
    """Every call, from a compiled function, of a compiled function that another module of `trees` holds."""
    kernels = {module: {f.name for f in compiled_functions(t)} for module, t in trees.items()}
    wrong = []
    for module, source in trees.items():
        foreign: dict[str, str] = {}
        for node in ast.walk(source):
            if isinstance(node, ast.ImportFrom):
                held = kernels.get(node.module or "", set())
                foreign |= {
                    a.asname or a.name: f"{node.module}.{a.name}" for a in node.names if a.name in held
                }
        for function in compiled_functions(source):
            for node in ast.walk(function):
                if isinstance(node, ast.Name) and node.id in foreign:
                    wrong.append(f"{module}.{function.name} calls {foreign[node.id]}")
                if isinstance(node, ast.Attribute) and any(
                    node.attr in held for other, held in kernels.items() if other != module
                ):
                    wrong.append(f"{module}.{function.name} calls a compiled {node.attr} of another file")
    return wrong


def test_no_compiled_call_across_files() -> None:
    assert calls_across_files({module_name(p): tree(p) for p in KIT_FILES}) == []


def test_the_scan_finds_such_a_call() -> None:
    callee = ast.parse("@compiled('f8(f8)')\ndef twice(x):\n    return 2 * x\n")
    caller = ast.parse(
        "from kit.a import twice\n@numba.njit(cache=True)\ndef four(x):\n    return twice(twice(x))\n"
    )
    assert len(calls_across_files({"kit.a": callee, "kit.b": caller})) == 2
    assert calls_across_files({"kit.a": callee}) == []


def test_one_wrapper_compiles() -> None:
    """Only kit/operate/compiled.py speaks to numba's compilers itself."""
    for path in KIT_FILES:
        if label(path) != "kit/operate/compiled.py":
            used = {name_of(d) for f in compiled_functions(tree(path)) for d in f.decorator_list}
            assert used <= {"compiled"}, label(path)
