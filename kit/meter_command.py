"""The command `ridethrough meter`: what a meter file holds, and its readings as a tidy table."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Literal

import click

BAD_INPUT = 2


@click.command()
@click.argument("file", type=click.Path(path_type=Path), metavar="FILE")
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder for the tidy table. Default: ./out/ and the file's name.",
)
@click.option("--time-zone", metavar="ZONE", help="Of the house, e.g. America/New_York.")
@click.option(
    "--format",
    "form",
    type=click.Choice(["csv", "parquet"]),
    default="csv",
    show_default=True,
    help="Of the tidy table; parquet needs the extra of that name.",
)
@click.option(
    "--times",
    type=click.Choice(["as_written", "local_clock", "standard_time"]),
    default="as_written",
    help="The clock of its times, if another than its format says.",
)
@click.option(
    "--values-in",
    type=click.Choice(["kwh", "wh", "kw", "w"]),
    help="Unit of a table that does not say; kw is the mean power.",
)
@click.option("--column", metavar="HEAD", help="Head of the column to take, where several could be.")
@click.option("--label", type=click.Choice(["start", "end"]), help="Which end of the interval a time names.")
@click.option(
    "--date-order",
    type=click.Choice(["month_first", "day_first"]),
    help="Of dates such as 3/4/2025, where no date of the file tells.",
)
@click.option("--decimal-comma", is_flag=True, help="A comma stands before decimals.")
@click.option(
    "--billed-kwh",
    type=click.FloatRange(min=0, min_open=True),
    help="Energy of the whole span by the bills, to check the file.",
)
def meter(
    file: Path,
    out: Path | None,
    time_zone: str | None,
    form: Literal["csv", "parquet"],
    **left_open: object,
) -> None:
    """Say what the meter file FILE holds, and write its readings as a tidy table.

    The options from --times on say what a file leaves open, as the keys of house.meter do.
    """
    from zoneinfo import ZoneInfo

    from kit.house import MeterError
    from kit.house.tidy import ParquetMissingError
    from kit.report.meter_text import understood_meter
    from kit.save import SaveError
    from kit.study.house_models import Meter

    try:
        ZoneInfo(time_zone or "UTC")
    except (KeyError, ValueError, OSError):
        raise click.BadParameter(
            f"unknown time zone {time_zone!r}; write a name such as America/New_York",
            param_hint="--time-zone",
        ) from None
    block = Meter(file=str(file), **left_open)  # type: ignore[arg-type]
    try:
        text, problems = understood_meter(block, time_zone, out or Path("out") / file.stem, form)
    except (MeterError, SaveError, ParquetMissingError) as error:
        click.echo(str(error), err=True)
        sys.exit(BAD_INPUT)
    click.echo(text)
    for problem in problems:
        click.echo(f"{file}: {problem}", err=True)
    sys.exit(BAD_INPUT if problems else 0)
