"""What the README shows is so: its study loads, its commands exist, its links lead somewhere."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

from kit.cli import main
from kit.study import read_study
from tests.contract.sources import ROOT

README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_study_of_the_tour_loads(tmp_path: Path) -> None:
    (block,) = re.findall(r"```yaml\n(.*?)```", README, re.DOTALL)
    folder = Path(shutil.copytree(ROOT / "params", tmp_path / "params")) / "studies"
    study = folder / "tour.yaml"
    study.write_text(block, encoding="utf-8")
    model = read_study(study).model
    assert set(model.options) == {"portable", "two_units"}
    assert model.options["two_units"].battery is not None
    assert model.options["two_units"].battery.unit_count == 2
    changed = read_study(study, re.findall(r"--set (\S+=[\w.]+)", README)).model
    assert changed.options["two_units"].battery is not None
    assert changed.options["two_units"].battery.unit_count == 3


def test_the_table_lists_every_command() -> None:
    assert set(re.findall(r"^\| `ridethrough (\w+)", README, re.MULTILINE)) == set(main.commands)


def test_links_lead_somewhere() -> None:
    links = set(re.findall(r"\]\(([^)#]+)\)", README))
    assert links
    assert [link for link in links if not link.endswith(".png") and not (ROOT / link).exists()] == []


def test_two_lines_and_no_more() -> None:
    (block,) = re.findall(r"```sh\n(.*?)```", README, re.DOTALL)
    install, tests = block.splitlines()
    assert install.startswith("python3 -m venv .venv && ")
    assert "-c .ci/constraints.txt -e '.[test]'" in install
    assert tests == ".venv/bin/pytest"


def test_the_cautions_are_there() -> None:
    for words in (
        "outdoors only",
        "backfeed",
        "Medical devices",
        "solar stops with the grid",
        "never approve",
    ):
        assert words.lower() in README.lower(), words
