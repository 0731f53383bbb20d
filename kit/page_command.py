"""The command `ridethrough page`: one HTML file for a household, to send by mail."""

from __future__ import annotations

import sys
from pathlib import Path

import click


@click.command()
@click.argument("study", type=click.Path(path_type=Path))
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder for the page. Default: ./out/ and the study's name.",
)
@click.option(
    "--set",
    "set_values",
    multiple=True,
    metavar="PATH=VALUE",
    help="Change one value of the study first. May be repeated.",
)
@click.option("--workers", type=click.IntRange(1), default=2, show_default=True, help="Processes.")
def page(study: Path, out: Path | None, set_values: tuple[str, ...], workers: int) -> None:
    """Write STUDY as one page with sliders, to send by mail.

    It needs a browser, no program and no network. Its path is printed.
    """
    from kit.report.page import write_page
    from kit.report.page_grid import GridError
    from kit.told import bad_input_told

    try:
        with bad_input_told():
            file = write_page(study, out or Path("out") / study.stem, set_values, workers=workers)
    except GridError as error:
        click.echo(str(error), err=True)
        sys.exit(1)
    click.echo(str(file))
