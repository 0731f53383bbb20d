"""The `ridethrough` command.

Exit codes: 0 done; 1 done, but no option meets what was asked, or the notebook stopped; 2 bad input or usage.
Everything heavy is imported inside the functions, so `--help` answers at once.
"""

from __future__ import annotations

import gc
import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from shutil import get_terminal_size

import click

import kit
from kit.lab_command import lab
from kit.memo_command import memo
from kit.meter_command import meter
from kit.page_command import page
from kit.told import BAD_INPUT, bad_input_told, print_problems

UNMET = 1

_study = click.argument("study", type=click.Path(path_type=Path))
_set = click.option(
    "--set",
    "set_values",
    multiple=True,
    metavar="PATH=VALUE",
    help="Change one value of the study, e.g. options.big_pack.battery.price_usd=9000. May be repeated.",
)
_root = click.option(
    "--root",
    type=click.Path(path_type=Path, file_okay=False, exists=True),
    help="Folder that every referenced file must lie in. Default: the parent of a folder named "
    "studies, else the study's own folder.",
)


@contextmanager
def at_a_stretch() -> Iterator[None]:
    """Without a search for dead objects: the command ends before one would pay. Saves a tenth of its time."""
    gc.disable()
    try:
        yield
    finally:
        gc.freeze()
        gc.enable()


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(kit.__version__, prog_name="ridethrough")
def main() -> None:
    """Compare a fuel generator, a battery, both or nothing for the hours the grid is down.

    A figure is only as good as the study file behind it. Findings never approve: local code
    and a licensed person decide. Run generators outdoors only.
    """


main.add_command(lab)
main.add_command(memo)
main.add_command(meter)
main.add_command(page)


@main.command()
@click.argument("studies", nargs=-1, required=True, metavar="STUDY...", type=click.Path(path_type=Path))
@_set
@_root
def check(studies: tuple[Path, ...], set_values: tuple[str, ...], root: Path | None) -> None:
    """Say what was understood of each STUDY, or every problem found in it."""
    from kit.grid.known import known_classes
    from kit.grid.outage_log import OutageDataError
    from kit.grid.price_series import PriceSeriesError, check_series
    from kit.study import StudyError, read_study
    from kit.study.understood import understood

    bad_count = 0
    for path in studies:
        try:
            study = read_study(path, set_values, root)
            known_classes(study.model.outages)  # an outage log is read here, not with the parameters
            check_series(study.model)
        except (StudyError, OutageDataError, PriceSeriesError) as error:
            bad_count += 1
            print_problems(error)
            continue
        click.echo(understood(study))
    if bad_count:
        sys.exit(BAD_INPUT)


@main.command()
@_study
@_set
@_root
@click.option(
    "--format",
    "form",
    type=click.Choice(["table", "json", "csv"]),
    default="table",
    show_default=True,
    help="table: to read; json: everything, with findings; csv: one line an option.",
)
def compare(study: Path, set_values: tuple[str, ...], root: Path | None, form: str) -> None:
    """Print the summary of STUDY: every option beside doing nothing."""
    with at_a_stretch(), bad_input_told():
        from kit.compare import compare as run
        from kit.study import read_study

        result = run(read_study(study, set_values, root))
    if form == "json":
        click.echo(json.dumps(result.to_json(), indent=2, ensure_ascii=False, allow_nan=False))
    elif form == "csv":
        click.echo(result.summary.to_csv(index=False, lineterminator="\n"), nl=False)
    else:
        from kit.screen import comparison_text

        click.echo(comparison_text(result, max(80, get_terminal_size((100, 24)).columns)))
    sys.exit(0 if result.verdict.meets else UNMET)


@main.command()
@_study
@click.option(
    "--plans",
    type=click.Path(path_type=Path, file_okay=False),
    required=True,
    help="Folder of rate plans: parameter files, and .json records of the open rate database.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder for the table, every bill line by line, the chart, and imported records.",
)
@_set
@_root
def rates(study: Path, plans: Path, out: Path | None, set_values: tuple[str, ...], root: Path | None) -> None:
    """Print the year's bill of every rate plan in a folder, with and without each option of STUDY."""
    from kit.report.rate_files import rates_text, write_rates
    from kit.study import read_study
    from kit.vary.plans import compare_plans, read_plans

    with bad_input_told():
        chosen = read_study(study, set_values, root)
        compared = compare_plans(chosen, read_plans(plans, chosen))
        click.echo(rates_text(compared))
        for path in write_rates(compared, out) if out is not None else ():
            click.echo(str(path))


@main.command()
@_study
@click.option("--keep-on-h", type=float, help="Hours to be kept on. Default: asked.keep_on_h of the study.")
@click.option("--chance-frac", type=float, help="With which chance. Default: asked.chance_frac of the study.")
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder for sizes.csv, hand_method.csv and sizes.svg. Default: ./out/ and the study's name.",
)
@_set
@_root
def size(
    study: Path,
    keep_on_h: float | None,
    chance_frac: float | None,
    out: Path | None,
    set_values: tuple[str, ...],
    root: Path | None,
) -> None:
    """Find the cheapest thing in the catalogue of STUDY that keeps the loads on for the asked hours."""
    from kit.report.size_files import sizing_text, write_sizes
    from kit.study import read_study
    from kit.vary.size import size as run

    target = {"asked.keep_on_h": keep_on_h, "asked.chance_frac": chance_frac}
    told = [f"{path}={value}" for path, value in target.items() if value is not None]
    with bad_input_told():
        found = run(read_study(study, [*set_values, *told], root))
        click.echo(sizing_text(found))
        for path in write_sizes(found, out or Path("out") / study.stem):
            click.echo(str(path))
    sys.exit(0 if found.best is not None and not found.life_support else UNMET)


@main.command()
@click.argument("folder", type=click.Path(path_type=Path), metavar="DIR")
def start(folder: Path) -> None:
    """Fill the new or empty folder DIR with an editable set of parameter files."""
    from kit.shipped import start as copy

    try:
        studies = copy(folder)
    except (FileExistsError, NotADirectoryError) as error:
        click.echo(str(error), err=True)
        sys.exit(BAD_INPUT)
    click.echo(f"{folder}: {len(studies)} studies to start from (their data is invented)")
    for path in studies:
        click.echo(f"  ridethrough memo {path}")


@main.command()
@click.argument("file", type=click.Path(path_type=Path), metavar="SWEEP")
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder of the results. Default: ./out/ and the file's name. Run again, it goes on from there.",
)
@click.option("--workers", type=click.IntRange(1), default=2, show_default=True, help="Processes.")
@click.option("--memos", is_flag=True, help="Also write one memo a case, through papermill.")
@click.option("--parquet", is_flag=True, help="Also write the table as Parquet (needs the extra `parquet`).")
def sweep(file: Path, out: Path | None, workers: int, memos: bool, parquet: bool) -> None:
    """Run every case of the file SWEEP: one row an option a case, and a page."""
    from kit.house.tidy import ParquetMissingError
    from kit.report.sweep_page import sweep_memos, write_sweep_page
    from kit.vary.sweep import TABLE, open_sweep, run_sweep, write_parquet

    folder = out or Path("out") / file.stem
    try:
        with bad_input_told():
            opened = open_sweep(file)
            swept = run_sweep(opened, folder, workers=workers)
            if parquet:
                write_parquet(swept, folder)
            made = sweep_memos(opened, folder, swept.failed, workers) if memos else None
            page = write_sweep_page(swept, folder, made.pages if made else {})
    except ParquetMissingError as error:
        click.echo(str(error), err=True)
        sys.exit(BAD_INPUT)
    click.echo(f"{page}\n{folder / TABLE}")
    click.echo(
        f"{len(opened.cases)} cases: {swept.taken_count} kept from before, {swept.computed_count} computed, "
        f"{len(swept.failed)} failed"
    )
    failed = swept.failed | (made.failed if made else {})
    for case, reason in failed.items():
        click.echo(f"{case}: {reason}", err=True)
    sys.exit(UNMET if failed else 0)


@main.command()
@_study
@_set
@_root
def worksheet(study: Path, set_values: tuple[str, ...], root: Path | None) -> None:
    """Print the worksheet of STUDY: loads, what runs together, what starts, what code rules compare."""
    from kit.report.worksheet import study_worksheet
    from kit.study import read_study

    with bad_input_told():
        click.echo(study_worksheet(read_study(study, set_values, root)).text)
