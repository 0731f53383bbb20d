"""A compiled function calls no compiled function of another file.

Numba's disk cache looks at the caller's file only: after an edit of the callee it would serve stale code.
"""

from __future__ import annotations

import ast

from tests.contract.sources import KIT_FILES, ROOT, imported_modules, label, module_name, tree

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


MOST_KERNELS = 20
TWINS = {  # each file with a compiled loop, the plain twin in tests/twins, and the test that holds it to it
    "kit/operate/alone.py": ("outage", "tests/unit/operate/test_lifetimes_alone.py"),
    "kit/operate/clock.py": ("clock", "tests/unit/operate/test_everyday.py"),
    "kit/operate/demand_proof.py": ("demand", "tests/unit/operate/test_demand.py"),
    "kit/operate/demand_walk.py": ("demand", "tests/unit/operate/test_demand.py"),
    "kit/operate/drawing.py": ("drawn", "tests/unit/operate/test_lifetimes_drawn.py"),
    "kit/operate/hybrid.py": ("hybrid", "tests/unit/operate/test_hybrid.py"),
    "kit/operate/policy.py": ("dispatch", "tests/unit/operate/test_thresholds.py"),
    "kit/operate/ride.py": ("ride", "tests/unit/operate/test_ride.py"),
    "kit/operate/segments.py": ("dispatch", "tests/unit/operate/test_segments.py"),
    "kit/operate/thresholds.py": ("dispatch", "tests/unit/operate/test_thresholds.py"),
    "kit/operate/walk.py": ("outage", "tests/unit/operate/test_walk.py"),
}


def entries(module: ast.Module) -> list[str]:
    """Compiled functions that plain Python starts: kernels.  The others are parts of which they are built."""
    compiled = compiled_functions(module)
    inside = {
        name_of(call.func)
        for function in compiled
        for call in ast.walk(function)
        if isinstance(call, ast.Call)
    }
    return [function.name for function in compiled if function.name not in inside]


def test_few_kernels() -> None:
    kernels = {label(p): entries(tree(p)) for p in KIT_FILES}
    assert sum(map(len, kernels.values())) <= MOST_KERNELS, kernels


def test_the_count_leaves_out_parts_only() -> None:
    source = "@compiled('f8(f8)')\ndef a(x):\n    return b(x)\n@compiled('f8(f8)')\ndef b(x):\n    return x\n"
    assert entries(ast.parse(source)) == ["a"]
    assert entries(ast.parse(source.replace("return b(x)", "return x"))) == ["a", "b"]


def test_every_file_of_kernels_has_a_twin_that_a_test_uses() -> None:
    assert {label(p) for p in KIT_FILES if compiled_functions(tree(p))} == set(TWINS)
    for file, (twin, test) in TWINS.items():
        used = {name for _, name in imported_modules(ROOT / test)}
        assert f"tests.twins.{twin}" in used or f"import {twin} as twin" in (ROOT / test).read_text(
            "utf-8"
        ), file
        roots = {name.split(".")[0] for _, name in imported_modules(ROOT / "tests" / "twins" / f"{twin}.py")}
        assert not roots & {"kit", "numba"}, twin
