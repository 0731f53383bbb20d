"""The command `ridethrough memo`: a study, or an earlier memo, to a page, a PDF, a Word file."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import click

UNMET, BAD_INPUT = 1, 2
_FORMATS = ("html", "pdf", "docx")


def _formats(context: click.Context, parameter: click.Parameter, text: str) -> tuple[str, ...]:
    """The formats named in a list with commas; html is always among them."""
    told = [part.strip().lower() for part in text.split(",") if part.strip()]
    unknown = [part for part in told if part not in _FORMATS]
    if unknown:
        raise click.BadParameter(f"unknown format {unknown[0]!r}; there are {', '.join(_FORMATS)}")
    return tuple(dict.fromkeys(("html", *told)))


@click.command()
@click.argument("study", type=click.Path(path_type=Path), required=False)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    help="Folder for the memo. Default: ./out/ and the study's name.",
)
@click.option(
    "--set",
    "set_values",
    multiple=True,
    metavar="PATH=VALUE",
    help="Change one value of the study, e.g. options.big_pack.battery.price_usd=9000. May be repeated.",
)
@click.option(
    "--as",
    "formats",
    default="html",
    show_default=True,
    callback=_formats,
    metavar="FORMAT,...",
    help="html,pdf,docx: the page is always made; pdf and docx need the extra `docs`.",
)
@click.option("--brief", is_flag=True, help="One page instead of the whole memo.")
@click.option("--with-data", is_flag=True, help="Put the meter and weather files into the page as well.")
@click.option(
    "--from",
    "memo_file",
    type=click.Path(path_type=Path, dir_okay=False, exists=True),
    metavar="MEMO.html",
    help="Make the memo again from an earlier one; its study goes into the new folder too.",
)
@click.option(
    "--root",
    type=click.Path(path_type=Path, file_okay=False, exists=True),
    help="With --from: folder below which the data files lie that the memo does not hold.",
)
@click.option(
    "--engine",
    type=click.Choice(["ridethrough", "nbclient"]),
    help="How the notebook runs: inside this process, or in a kernel of its own. The figures are equal.",
)
def memo(
    study: Path | None,
    out: Path | None,
    set_values: tuple[str, ...],
    formats: tuple[str, ...],
    brief: bool,
    with_data: bool,
    memo_file: Path | None,
    root: Path | None,
    engine: str | None,
) -> None:
    """Write the decision memo of STUDY and print where it stands."""
    from kit.report.again import FromError
    from kit.report.paper import DocsMissingError, check_extra
    from kit.report.run import DEFAULT_ENGINE, MemoError, write_memo
    from kit.told import bad_input_told

    if (study is None) == (memo_file is None):
        raise click.UsageError("Name one of the two: a STUDY, or an earlier memo with --from MEMO.html.")
    if root is not None and memo_file is None:
        raise click.UsageError("--root goes with --from: a study's own data lie below the study's root.")
    try:
        with bad_input_told():
            check_extra(formats)
            study, folder = _study(study, memo_file, out, root)
            files = write_memo(
                study, folder, set_values, engine=engine or DEFAULT_ENGINE,
                formats=formats, brief=brief, with_data=with_data,
            )  # fmt: skip
    except (DocsMissingError, FromError) as error:
        click.echo(str(error), err=True)
        sys.exit(BAD_INPUT)
    except MemoError as error:
        click.echo(str(error), err=True)
        sys.exit(UNMET)
    click.echo(str(files))
    options = json.loads(files.json.read_text(encoding="utf-8"))["options"]
    sys.exit(0 if any(option["meets_target"] for option in options) else UNMET)


def _study(
    study: Path | None, memo_file: Path | None, out: Path | None, root: Path | None
) -> tuple[Path, Path]:
    """The study file and the folder of the memo; a study inside an earlier memo is written out first."""
    if memo_file is None:
        assert study is not None
        return study, out or Path("out") / study.stem
    from kit.report.again import restore

    folder = out or Path("out") / f"{memo_file.resolve().parent.name}_again"
    roots = [root] if root is not None else [Path.cwd(), memo_file.resolve().parent]
    found, warning = restore(memo_file, folder, roots)
    if warning:
        click.echo(warning, err=True)
    return found, folder
