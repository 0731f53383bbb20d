"""The command `ridethrough lab`: JupyterLab at the explore notebook."""

from __future__ import annotations

import sys
from pathlib import Path

import click

BAD_INPUT = 2


@click.command(context_settings={"ignore_unknown_options": True})
@click.option(
    "--folder",
    type=click.Path(path_type=Path, file_okay=False),
    help="Work in copies of the shipped notebooks and parameters there. Default: the clone, or "
    "./ridethrough-lab where the kit is installed.",
)
@click.argument("more", nargs=-1, type=click.UNPROCESSED, metavar="[JUPYTERLAB OPTIONS]...")
def lab(folder: Path | None, more: tuple[str, ...]) -> None:
    """Open JupyterLab at the explore notebook.

    Move a control there, and chance and money follow. Update and news checks are off. Other options
    go to JupyterLab as they are, e.g. --no-browser or --port=9999.
    """
    from kit.report.lab import lab_folder, open_lab
    from kit.save import SaveError

    try:
        place = lab_folder(folder)
    except (SaveError, OSError) as error:
        click.echo(str(error), err=True)
        sys.exit(BAD_INPUT)
    click.echo(f"Working in {place}")
    open_lab(place, more)
