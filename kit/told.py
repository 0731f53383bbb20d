"""What the command says of bad input: every problem, one a line, and exit code 2."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager

import click

BAD_INPUT = 2
BY_HAND = 130


@contextmanager
def bad_input_told() -> Iterator[None]:
    """Print what is wrong with a study, its data or an output folder and leave with code 2.

    Ctrl-C is told in one line too, with the code that shells give it.

    Any other error is the kit's own fault and keeps its traceback.
    """
    from kit.grid.outage_log import OutageDataError
    from kit.grid.price_series import PriceSeriesError
    from kit.grid.record_fields import RecordError
    from kit.house import MeterError, WeatherError
    from kit.save import SaveError
    from kit.study import StudyError

    try:
        yield
    except (
        StudyError, MeterError, WeatherError, PriceSeriesError, RecordError, OutageDataError, SaveError
    ) as error:  # fmt: skip
        print_problems(error)
        sys.exit(BAD_INPUT)
    except KeyboardInterrupt:
        click.echo("stopped by hand; a sweep keeps what it has finished and goes on from there", err=True)
        sys.exit(BY_HAND)


def print_problems(error: Exception) -> None:
    """Every problem that an error holds, or the error itself, one a line."""
    for problem in getattr(error, "problems", (error,)):
        click.echo(str(problem), err=True)
