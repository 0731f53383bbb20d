"""Appliances in files: what is refused, in which words and where, and blocks taken from a library."""

from __future__ import annotations

from pathlib import Path

import pytest

from kit.study import read_study
from kit.study.appliance_models import Appliance, Cycle
from kit.study.house_models import House
from kit.study.motor_models import Motor
from tests.unit.study.conftest import Spoil

HOUSE = "houses/small.yaml"
LINE = "  refrigerator: {running_w: 150, starting_total_w: 1200, tier: must_run}"
AT = "house.appliances.refrigerator"
LIBRARY = """\
kit_file: 1
freezer:
  source: a table
  running_w: {likely: 500, low: 400, high: 800}
  starting_total_w: 1250
  duty_frac: 0.3
lamp: {running_w: 10}
"""


@pytest.fixture
def library(study: Path) -> Path:
    file = study.parents[1] / "houses/typical.yaml"
    file.write_text(LIBRARY)
    return file


REFUSED = [
    ("running_w: 150, starting_w: 1200", AT,
     "starting_w does not say whether it is the total while starting or the extra on top of running: "
     "published tables mix them up; write starting_total_w or starting_extra_w"),
    ("running_w: 150, starting_total_w: 1200, starting_extra_w: 1050", AT,
     "starting_total_w and starting_extra_w are both given: write one; `starting_total_w: ~` leaves out "
     "a value that comes from another file"),
    ("running_w: 150, starting_total_w: 100", AT,
     "starting_total_w 100 is below the running 150 W: it is all that is drawn while it starts; use "
     "starting_extra_w for the part on top"),
    ("running_w: 150, starting_extra_w: -5", f"{AT}.starting_extra_w", "must be at least 0"),
    ("room: kitchen", AT, "says nothing of its running power: give running_w, running_a, nameplate_va"),
    ("motor: {shaft_hp: 1, code_letter: K}", AT,
     "says nothing of its running power: give running_w, running_a, nameplate_va or motor.efficiency_frac"),
    ("running_w: 150, running_a: 2", AT,
     "running_w and running_a are both given: write one; `running_w: ~` leaves out a value that comes from "
     "another file"),
    ("running_w: 900, motor: {shaft_hp: 0.5, code_letter: I}", f"{AT}.motor.code_letter",
     "must be A, B, C, D, E, F, G, H, J, K, L, M, N, P, R, S, T, U or V"),
    ("running_w: 900, motor: {shaft_hp: 0.5, code_letter: V}", f"{AT}.motor",
     "code letter V has no upper limit: take its locked-rotor amperes from the nameplate and write "
     "starting_total_w, or say `takes: low`"),
    ("running_w: 900, starting_total_w: 3000, motor: {shaft_hp: 0.5, code_letter: K}", AT,
     "starting_total_w and motor both give the start: write one; `starting_total_w: ~` leaves out a "
     "value that comes from another file"),
    ("running_w: 9000, motor: {shaft_hp: 0.5, code_letter: K}", AT,
     "the code letter K gives 4495 VA at standstill, below the running 9000 W: check horsepower and "
     "letter"),
    ('running_w: 150, use: {weekday: "6-25"}', f"{AT}.use.weekday",
     "hours '6-25': an hour is at most 24, got 25"),
    ('running_w: 150, use: {weekend: "-1-5"}', f"{AT}.use.weekend",
     "hours '-1-5': '-1-5' is not a range; write it like '6-9, 17-22.5'"),
    ('running_w: 150, outage_use: {weekday: "8-8"}', f"{AT}.outage_use.weekday",
     "hours '8-8': '8-8' is empty; write 0-24 for the whole day"),
    ('running_w: 150, use: {seasons: {warm: {months: [7], weekday: "9-33"}}}',
     f"{AT}.use.seasons.warm.weekday",
     "hours '9-33': an hour is at most 24, got 33"),
    ("running_w: 150, use: {seasons: {warm: {months: [6, 7]}, hot: {months: [7]}}}", f"{AT}.use",
     "seasons warm and hot both hold month 7"),
    ("running_w: 150, use: {months: [1], seasons: {warm: {months: [7]}}}", f"{AT}.use",
     "season warm holds month 7, which is not among months"),
    ("running_w: 150, duty_frac: 0.3, cycle: {on_minutes: 10, off_minutes: 20}", AT,
     "duty_frac and cycle both give the duty: write one; `duty_frac: ~` leaves out a value that comes from "
     "another file"),
    ("running_w: 150, leg: 1, voltage_v: 240", AT, "leg is for a 120 V load; one of 240 V stands on both"),
    ("running_w: 150, thermostat: {idle_at_c: 15, load_kw_per_c: 0.1}", f"{AT}.thermostat",
     "load_kw_per_c needs `mode: heating` or `mode: cooling`"),
    ("running_w: 150, thermostat: {idle_at_c: 15}", f"{AT}.thermostat",
     "give full_at_c, or load_kw_per_c with a mode"),
    ("running_w: 150, thermostat: {idle_at_c: 15, full_at_c: 15}", f"{AT}.thermostat",
     "idle_at_c and full_at_c must differ"),
    ("running_w: 150, thermostat: {idle_at_c: 15, full_at_c: 5, mode: cooling}", f"{AT}.thermostat",
     "full_at_c 5 is on the wrong side for cooling"),
]  # fmt: skip


@pytest.mark.parametrize(("keys", "path", "rule"), REFUSED, ids=lambda v: str(v)[:50])
def test_refused_with_its_place_and_a_way_out(spoil: Spoil, keys: str, path: str, rule: str) -> None:
    (problem,) = spoil((HOUSE, LINE, f"  refrigerator: {{{keys}, tier: must_run}}"))
    assert (problem.path, problem.rule) == (path, rule)
    assert problem.file.endswith(HOUSE)
    assert problem.line == 7


def test_life_support_is_must_run(spoil: Spoil) -> None:
    (problem,) = spoil((HOUSE, LINE, LINE.replace("tier: must_run", "life_support: true, tier: wanted")))
    assert problem.rule == "life_support belongs in the must_run tier, not in wanted"


def test_a_tier_that_is_asked_for_holds_something(spoil: Spoil) -> None:
    (problem,) = spoil((HOUSE, "tier: must_run", "tier: wanted"))
    assert (problem.path, problem.got) == ("asked.loads", "'must_run'")
    assert problem.rule == "no appliance of the house is must_run, so nothing of it can be kept on"
    assert problem.hint == "Give at least one appliance `tier: must_run`, or ask for other loads."


def test_both_tiers_where_both_are_asked_for(spoil: Spoil) -> None:
    (problem,) = spoil(("studies/base.yaml", "keep_on_h: 24", "keep_on_h: 24, loads: wanted"))
    assert problem.rule == "no appliance of the house is wanted, so nothing of it can be kept on"
    assert problem.line == 5


@pytest.mark.parametrize(
    "keys",
    [
        "running_w: 150, duty_frac: 0",
        'running_w: 150, use: {weekday: "", weekend: ""}',
        "running_w: 150, use: {months: []}",
    ],
)
def test_a_list_that_draws_nothing(spoil: Spoil, keys: str) -> None:
    (problem,) = spoil((HOUSE, LINE, f"  refrigerator: {{{keys}, tier: must_run}}"))
    assert problem.path == "house.appliances"
    assert problem.rule.startswith("the list draws nothing at any hour")


def test_a_block_of_a_library_with_changes(spoil: Spoil, study: Path, library: Path) -> None:
    house = study.parents[1] / HOUSE
    house.write_text(
        house.read_text().replace(
            LINE,
            "  freezer: {from: typical.yaml#freezer, tier: must_run, starting_total_w: ~, "
            "starting_extra_w: 900}\n"
            "  lamp: {from: typical.yaml#lamp, count: 3, tier: must_run}",
        )
    )
    read = read_study(study)
    freezer = read.model.house.appliances["freezer"]
    assert (freezer.draw_w, freezer.start_total_w, freezer.on_frac) == (500.0, 1400.0, 0.3)
    assert read.model.house.appliances["lamp"].count == 3
    told = read.provenance["house.appliances.freezer.running_w"]
    assert (told.source, told.low, told.high, told.line) == ("a table", 400.0, 800.0, 4)
    assert told.file == "houses/typical.yaml"


def test_a_block_that_is_not_there(spoil: Spoil, library: Path) -> None:
    (problem,) = spoil((HOUSE, LINE, "  freezer: {from: typical.yaml#freezr, tier: must_run}"))
    assert problem.rule == "that file has no block freezr"
    assert (problem.got, problem.hint) == ("'typical.yaml#freezr'", "Did you mean freezer?")
    assert problem.line == 7


def test_a_library_that_is_not_there(spoil: Spoil) -> None:
    (problem,) = spoil((HOUSE, LINE, "  freezer: {from: gone.yaml#freezer, tier: must_run}"))
    assert problem.rule == "no such file"


def test_every_way_to_say_running() -> None:
    assert Appliance(running_w=700.0, tier="wanted").draw_w == 700.0
    assert Appliance(running_a=6.0, power_factor_frac=0.8, tier="wanted").draw_w == pytest.approx(576.0)
    assert Appliance(nameplate_va=500.0, power_factor_frac=0.6, tier="wanted").draw_w == pytest.approx(300.0)
    motor = Motor(shaft_hp=2.0, code_letter="L", efficiency_frac=0.8)
    assert Appliance(motor=motor, tier="wanted").draw_w == pytest.approx(2 * 745.7 / 0.8)


def test_every_way_to_say_starting() -> None:
    assert Appliance(running_w=700.0, tier="wanted").start_total_w == 700.0
    assert Appliance(running_w=700.0, starting_total_w=900.0, tier="wanted").start_total_w == 900.0
    assert Appliance(running_w=700.0, starting_extra_w=900.0, tier="wanted").start_total_w == 1600.0
    low = Motor(shaft_hp=2.0, code_letter="L", takes="low", start_power_factor_frac=0.5)
    piece = Appliance(running_w=1800.0, motor=low, tier="wanted")
    assert piece.start_total_va == pytest.approx(18_000.0)  # 9.0 kVA per hp
    assert piece.start_total_w == pytest.approx(9_000.0)
    half = piece.model_copy(update={"soft_start_frac": 0.5})
    assert (half.start_total_va, half.start_total_w) == pytest.approx((9_000.0, 4_500.0))


def test_minutes_on_and_off() -> None:
    piece = Appliance(running_w=150.0, cycle=Cycle(on_minutes=12, off_minutes=18), tier="wanted")
    assert piece.on_frac == pytest.approx(0.4)
    assert piece.holds_a_level
    assert not Appliance(running_w=150.0, duty_frac=0.4, tier="wanted").holds_a_level


@pytest.mark.parametrize(("key", "other"), [("voltage_v", 240), ("backed", False), ("leg", 1)])
def test_what_shares_a_circuit_is_alike(key: str, other: object) -> None:
    one = Appliance(running_w=10.0, circuit="3", tier="wanted")
    two = one.model_copy(update={key: other})
    with pytest.raises(ValueError, match=f"appliances a and b stand on circuit 3 but differ in {key}"):
        House(time_zone="UTC", latitude_deg=0, longitude_deg=0, appliances={"a": one, "b": two})


def test_every_block_of_the_shipped_library_is_an_appliance(tmp_path: Path) -> None:
    """Each with a tier of its own, through the loader: ranges, sources and starts all hold together."""
    import shutil

    import yaml

    params = Path(__file__).parents[3] / "params"
    copy = Path(shutil.copytree(params, tmp_path / "params"))
    names = [k for k in yaml.safe_load((params / "appliances/household.yaml").read_text()) if k != "kit_file"]
    lines = "\n".join(
        f"    typical_{n}: {{from: ../appliances/household.yaml#{n}, tier: must_run}}" for n in names
    )
    study = copy / "studies/everything.yaml"
    study.write_text(f"kit_file: 1\nfrom: farm_house.yaml\nhouse:\n  appliances:\n{lines}\n")
    read = read_study(study)
    for name in names:
        piece = read.model.house.appliances[f"typical_{name}"]
        assert piece.start_total_w >= piece.draw_w > 0, name
        given = {
            k: p for k, p in read.provenance.items() if k.startswith(f"house.appliances.typical_{name}.")
        }
        for key in ("running_w", "starting_total_w", "starting_extra_w"):
            told = given.get(f"house.appliances.typical_{name}.{key}")
            assert told is None or told.source, f"{name}.{key} has no source"
