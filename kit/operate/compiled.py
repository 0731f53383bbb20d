"""The one way a hot loop of the kit becomes machine code.

``compiled`` takes one explicit numba signature, so a kernel is built once, when its file is imported, and a
wrong argument type is an error instead of a second, silent build.  The machine code is kept on disk:
in ``$RIDETHROUGH_CACHE/kernels`` where that variable is set, else (or where that cannot be written) where
numba keeps it: beside the file, or in the user's cache folder.  Where none of these can be written the code
lives in memory only, with one warning for the whole process.  ``NUMBA_DISABLE_JIT=1`` leaves plain Python,
which coverage can see.

A compiled file calls no compiled function of another file: numba's disk cache looks at the file of the
caller only and would serve stale code after an edit of the callee.
"""

import os
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, TypeVar, cast

import numba

Function = TypeVar("Function", bound=Callable[..., Any])

_warned = False


def compiled(signature: str, *, cache: bool = True, lanes: bool = False) -> Callable[[Function], Function]:
    """Compile a plain numeric function to machine code.

    Args:
        signature: one numba signature, such as ``"f8(f8[::1], i8)"``; ``[::1]`` is a C-contiguous array.
        cache: keep the machine code on disk where that works.
        lanes: let the machine's vector registers take like lines of straight code together; it helps where
            several walks are written out side by side and costs time elsewhere.

    Returns:
        A decorator.  The function it returns raises TypeError on arguments that the signature does not take.

    Rounding is that of IEEE 754 doubles in the order written (no fast-math), a division by zero gives
    an infinity or a NaN as numpy does, and the kernel runs without the interpreter's lock.
    """

    def decorate(function: Function) -> Function:
        if not cache:
            return _build(function, signature, cache=False, lanes=lanes)
        try:
            return _build(function, signature, cache=True, lanes=lanes)
        except (OSError, RuntimeError) as problem:
            reason = problem
        kernel = _build(
            function, signature, cache=False, lanes=lanes
        )  # a fault of the code itself is raised here
        _warn_once(reason)
        return kernel

    return decorate


def _build(function: Function, signature: str, *, cache: bool, lanes: bool) -> Function:
    with _settings(lanes), _kept_as_it_is():
        build = numba.njit([signature], cache=cache, error_model="numpy", nogil=True)
        return cast(Function, build(function))


@contextmanager
def _settings(lanes: bool) -> Iterator[None]:
    """The kit's cache folder and choice of lanes for one build, then the host's own settings."""
    folder = os.environ.get("RIDETHROUGH_CACHE", "")
    config: Any = numba.config
    before = config.CACHE_DIR, config.SLP_VECTORIZE
    try:
        config.SLP_VECTORIZE = int(lanes)
        if folder:
            config.CACHE_DIR = os.path.join(folder, "kernels")
        yield
    finally:
        config.CACHE_DIR, config.SLP_VECTORIZE = before


@contextmanager
def _kept_as_it_is() -> Iterator[None]:
    """Load machine code that is kept without all that a build would need to know, for one build.

    numba declares every function it knows before it looks on disk, which takes longer than the loading. What
    is not kept is built as ever: the compiler asks for the declarations itself. Another numba than the one
    known does as it likes.
    """
    try:
        from numba.core import caching
        from numba.core.runtime.nrt import rtsys

        kept: Any = caching.Cache
        as_ever, load = kept.load_overload, kept._load_overload
        guarded = kept._guard_against_spurious_io_errors
    except (ImportError, AttributeError):
        yield
        return

    def load_overload(self: Any, signature: Any, target: Any) -> Any:
        rtsys.initialize(target)
        with guarded(self):
            return load(self, signature, target)

    try:
        kept.load_overload = load_overload
        yield
    finally:
        kept.load_overload = as_ever


def _warn_once(reason: Exception) -> None:
    global _warned
    if not _warned:
        _warned = True
        warnings.warn(
            "compiled kernels are kept in memory only, so the next start compiles them again: no folder for "
            f"them can be written ({reason}). Set RIDETHROUGH_CACHE to a folder that can be.",
            RuntimeWarning,
            stacklevel=4,
        )
