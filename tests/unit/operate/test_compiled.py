"""The wrapper around numba: cached where a folder can be written, in memory with one warning where not."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from kit.operate.compiled import compiled

KERNEL = """
import numpy as np
from kit.operate.compiled import compiled

@compiled("f8(f8[::1])")
def total(values):
    s = 0.0
    for i in range(len(values)):
        s += values[i]
    return s

@compiled("f8(f8)")
def twice(x):
    return 2.0 * x

if __name__ == "__main__":
    print(total(np.array([1.0, 2.5])), twice(2.0))
"""


def run(tmp_path: Path, text: str = KERNEL, **env: str) -> subprocess.CompletedProcess[str]:
    script = tmp_path / "place" / "script.py"
    script.parent.mkdir(exist_ok=True)
    if not script.exists():  # numba keeps code for a file that has not changed
        script.write_text(text)
    root = str(Path(__file__).parents[3])
    kept = {k: v for k, v in os.environ.items() if not k.startswith(("NUMBA", "RIDETHROUGH"))}
    return subprocess.run(
        [sys.executable, str(script)],
        env=kept | {"PYTHONPATH": root} | env,
        capture_output=True,
        text=True,
        check=True,
    )


def test_a_kernel_computes_and_refuses_other_types() -> None:
    @compiled("f8(f8[::1])", cache=False)
    def total(values: np.ndarray) -> float:
        s = 0.0
        for i in range(len(values)):
            s += values[i]
        return s

    assert total(np.array([1.0, 2.5])) == 3.5
    if not os.environ.get("NUMBA_DISABLE_JIT"):
        with pytest.raises(TypeError):
            total(np.array([1, 2], dtype=np.int32))


def test_cache_goes_where_the_variable_says(tmp_path: Path) -> None:
    cache = tmp_path / "cache"
    for _ in range(2):
        done = run(tmp_path, RIDETHROUGH_CACHE=str(cache))
        assert done.stdout.split() == ["3.5", "4.0"]
        assert "RuntimeWarning" not in done.stderr
    assert len(list(cache.rglob("*.nbi"))) == 2
    assert len(list(cache.rglob("*.nbc"))) == 2


def test_unwritable_places_mean_memory_and_one_warning(tmp_path: Path) -> None:
    in_the_way = tmp_path / "file"
    in_the_way.write_text("")  # a file where a folder should be: holds for root too
    (tmp_path / "place").mkdir()
    (tmp_path / "place" / "__pycache__").write_text("")
    done = run(tmp_path, RIDETHROUGH_CACHE=str(in_the_way), XDG_CACHE_HOME=str(in_the_way))
    assert done.stdout.split() == ["3.5", "4.0"]
    assert done.stderr.count("RuntimeWarning") == 1
    assert "RIDETHROUGH_CACHE" in done.stderr


def test_without_compiler_the_function_is_plain_python(tmp_path: Path) -> None:
    cache = tmp_path / "cache"
    done = run(tmp_path, RIDETHROUGH_CACHE=str(cache), NUMBA_DISABLE_JIT="1")
    assert done.stdout.split() == ["3.5", "4.0"]
    assert not cache.exists()


def test_kept_code_is_loaded_alone_and_leaves_a_build_of_others_whole(tmp_path: Path) -> None:
    cache = str(tmp_path / "cache")
    told = """
    import sys, numba
    print("scipy.linalg" in sys.modules)
    print(numba.njit(lambda a, b: a @ b)(np.eye(2), np.ones((2, 2))).sum())
"""
    outputs = [run(tmp_path, KERNEL + told, RIDETHROUGH_CACHE=cache).stdout.split() for _ in range(2)]
    assert [output[:2] + output[3:] for output in outputs] == [["3.5", "4.0", "4.0"]] * 2
    assert outputs[1][2] == "False"  # what the declarations of a build would have loaded


LOADED = """
import sys
from kit.operate import alone, clock, demand_walk, drawing, hybrid, policy, ride, segments, thresholds, walk
print("scipy.linalg" in sys.modules)
"""


def test_the_kits_own_loops_are_loaded_without_matrix_routines() -> None:
    """They take longer to load than all loops; a sum of an array inside a loop is enough to ask for them."""
    outputs = [
        subprocess.run([sys.executable, "-c", LOADED], capture_output=True, text=True, check=True).stdout
        for _ in range(2)  # the first builds what is not kept yet
    ]
    assert outputs[1].strip() == "False"


def test_a_fault_of_the_code_is_not_hidden() -> None:
    with pytest.raises(Exception, match="unknown_name"):

        @compiled("f8(f8)")
        def broken(x: float) -> float:
            return x + unknown_name  # type: ignore[name-defined]  # noqa: F821
