"""Compare a fuel generator, a battery, both or nothing for the hours the grid is down.

Reading order, the same as the order of imports (a module imports only what stands earlier):

1. ``kit.units``, ``kit.calendar``: suffix of a name -> unit; a real calendar year in local time.
2. ``kit.study``: a parameter file is read, checked and becomes a ``Study``.
3. ``kit.house``, ``kit.grid``, ``kit.systems``: loads and solar; rate plans and outage statistics;
   what batteries and generators do. These three never import each other.
4. ``kit.fit``: can an option start and carry the loads, and by which power path.
5. ``kit.operate``: everyday use, and every outage from every start step of the year.
6. ``kit.account``: fuel, upkeep, emissions, cash flows and the money measures.
7. ``kit.compare``: the spine, one short function that runs the stages in order.
8. ``kit.vary``: many cases by one mechanism.
9. ``kit.report``: tables, charts, the memo.
10. ``kit.cli``: the ``ridethrough`` command.

Three lines to a result::

    from kit.compare import compare
    from kit.study import read_study
    compare(read_study("params/studies/metered_house.yaml")).summary
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from kit.compare import Comparison as Comparison
    from kit.report.run import write_memo as write_memo
    from kit.study import Study as Study
    from kit.study import StudyError as StudyError
    from kit.study import read_study as read_study

__version__ = "0.1.0"

# Public name -> module that holds it; loaded on first use, so `import kit` stays light.
_HOME = {
    "Comparison": "kit.compare",
    "Study": "kit.study",
    "StudyError": "kit.study",
    "read_study": "kit.study",
    "write_memo": "kit.report.run",
}

__all__ = ["Comparison", "Study", "StudyError", "__version__", "read_study", "write_memo"]


def __getattr__(name: str) -> object:
    """Load a public name from its module on first use."""
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(_HOME[name]), name)


def __dir__() -> list[str]:
    return sorted(__all__)
