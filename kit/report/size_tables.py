"""What to buy from a catalogue: the answer, the frontier, why the others fail, the hand method beside it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from kit.report.formats import CHANCE, DASH, figure, whole_money
from kit.report.html_table import Cell, Group, table
from kit.report.show import Shown, bullets, paragraph, together

if TYPE_CHECKING:
    import pandas as pd

MOST_ROWS = 12
REASONS = {
    "not allowed": "may not be built here",
    "not reached": "reaches not all loads",
    "voltage": "no 240 V",
    "power": "running power",
    "one leg": "one 120 V leg",
    "start": "hardest start",
    "start on one leg": "start on one 120 V leg",
    "surge time": "surge too short",
    "legal fuel": "more fuel than allowed",
    "budget": "over the budget",
    "taking over": "taking over",
    "energy": "stored energy",
    "fuel": "stored fuel",
    "failures": "machines that fail",
    "dearer": "not walked: dearer than one that lasts a week",
}
UNITS = {"chance": CHANCE, "L": "l", "kWh": "kwh", "kW": "kw", "kVA": "kva", "V": "v", "s": "s", "h": "h"}
STEPS = {
    "by hand": "By hand: watts x hours / usable share",
    "duty": "... loads that run in turn",
    "worst season": "... the asked share of outages, by season and hour",
    "efficiency": "... losses on the way out",
    "idle": "... its own draw",
    "gaps borne": "... power at every step, gaps that the loads bear",
    "reserve": "... the charge that everyday use leaves",
    "solar": "... what an array stores meanwhile",
    "failures": "... failures",
    "on offer": "Least battery on offer that does it alone",
    "fuel by hand": "By hand: half load x hours",
    "at the load there is": "... at the load there is",
    "fuel it takes": "... with starts, stops and battery",
    "stored": "Stored by this choice",
}


def answer(sizing: Any) -> Shown:
    """The finding in sentences: what to buy, what it costs, the same without solar, what is missing."""
    parts = [_careful(sizing), paragraph(finding(sizing)), _beside(sizing)]
    closing = "Findings never approve: local code and a licensed person decide."
    return together([*parts, paragraph(closing)])


def finding(sizing: Any) -> str:
    """One sentence: the cheapest that does it, or that nothing does and what comes nearest."""
    asked, row = sizing.study.model.asked, sizing.row(sizing.chosen)
    target = f"{asked.keep_on_h:g} h in {figure(asked.chance_frac, CHANCE)} of the outages that last so long"
    loads = "must-run" if asked.loads == "must_run" else "must-run and wanted"
    count = f"{len(sizing.table):,} configurations"
    if sizing.best is None:
        lack = _lack(sizing, row)
        return (
            f"None of {count} keeps the {loads} loads on for {target}. Nearest comes {row['name']}: "
            f"{row['text']} ({lack})"
        )
    return (
        f"Of {count}, {row['name']} is the cheapest that keeps the {loads} loads on for {target}: "
        f"{_usd(sizing, row['up_front_usd'])} up front, {_usd(sizing, row['lifetime_cost_usd'])} over "
        f"{asked.stay_years} years with all bills. It does so in "
        f"{figure(row['ride_through_frac_asked'], CHANCE)}, and lasts {row['kept_on_h']:g} h with the "
        "chance asked."
    )


def _careful(sizing: Any) -> Shown | None:
    if not sizing.life_support:
        return None
    names = ", ".join(slug.replace("_", " ") for slug in sizing.life_support)
    return paragraph(
        f"Someone's life depends on the {names}: no size here may be called adequate for it. The figures are "
        "for planning only; keep a plan that needs no electricity.",
        "caution",
    )


def _beside(sizing: Any) -> Shown | None:
    """The same without solar, so that no array is credited to the backup."""
    if sizing.best is None:
        return None
    row, plain = sizing.row(sizing.best), sizing.without_solar
    if row["solar_kw"] == 0:
        return None
    if plain is None:
        return paragraph("Nothing in the catalogue does it without solar.")
    other = sizing.row(plain)
    gap_usd = other["lifetime_cost_usd"] - row["lifetime_cost_usd"]
    earns = _usd(sizing, row["saving_from_solar_usd_per_year"])
    price = f"{_usd(sizing, other['up_front_usd'])} up front, {_usd(sizing, abs(gap_usd))}"
    return paragraph(
        f"Its array takes {earns} a year off the bill whatever backs the house up. Without solar the "
        f"cheapest is {other['name']}: {price} {'more' if gap_usd >= 0 else 'less'} over the years."
    )


def frontier_table(sizing: Any) -> Shown:
    """Cost against hours kept on: each row outlasts the one before, and nothing lasts so long for less."""
    groups = [Group("Everything on offer", _frontier_rows(sizing, sizing.frontier()))]
    if (sizing.frontier()["solar_kw"] > 0).any():
        plain = sizing.frontier("frontier_without_solar")
        groups.append(Group("Without solar", _frontier_rows(sizing, plain)))
    years = sizing.study.model.asked.stay_years
    heads = [
        "",
        "Kept on\nat the chance asked",
        "Chance at\nthe asked hours",
        "Up front",
        f"Over {years} years",
    ]
    return table("What more hours cost", heads, groups, kind="figures rows")


def _frontier_rows(sizing: Any, rows: pd.DataFrame) -> list[list[str | Cell]]:
    """At most MOST_ROWS of them, evenly taken, with the chosen one."""
    step = max(1, -(-len(rows) // MOST_ROWS))
    return [
        [
            _marked(sizing, row),
            figure(row["kept_on_h"], "h"),
            figure(row["ride_through_frac_asked"], CHANCE),
            _usd(sizing, row["up_front_usd"]),
            _usd(sizing, row["lifetime_cost_usd"]),
        ]
        for n, row in enumerate(rows.to_dict("records"))
        if n % step == 0 or n == len(rows) - 1 or row["configuration"] == sizing.best
    ]


def _marked(sizing: Any, row: dict[Any, Any]) -> Cell:
    return Cell(str(row["name"]), kind="best" if row["configuration"] == sizing.best else "")


def failures_table(sizing: Any) -> Shown:
    """How many fail each check first, with the two nearest below the answer in cost (else above)."""
    best = sizing.best and sizing.row(sizing.best)
    lost = sizing.table[sizing.table["fails"].notna()].copy()
    lost["cost"] = lost["lifetime_cost_usd"].astype(float).fillna(lost["least_cost_usd"])
    groups = []
    for reason, words in REASONS.items():
        those = lost[lost["fails"] == reason]
        if those.empty or reason == "dearer":
            continue
        cheaper = those[those["cost"] < best["lifetime_cost_usd"]] if best else those
        shown = cheaper.sort_values(["cost", "configuration"], ascending=[False, True]).head(2)
        if shown.empty:
            shown = those.sort_values(["cost", "configuration"]).head(2)
        heading = f"{words.capitalize()}: {len(those)}, of them {len(cheaper)} cheaper" if best else words
        rows: list[Sequence[str | Cell]] = [
            [str(r["name"]), *_need_have(sizing, r), _usd(sizing, r["up_front_usd"])]
            for r in shown.to_dict("records")
        ]
        groups.append(Group(heading, rows))
    left = int((lost["fails"] == "dearer").sum())
    note = f"{left:,} more cost more than one that is kept on for a week and were not walked."
    heads = ["First check failed", "Needs", "Has", "Up front"]
    made = table("Why the others fail", heads, groups, kind="figures rows")
    return together([made, paragraph(note) if left else None])


def hand_table(sizing: Any) -> Shown:
    """The hand method and what it leaves out, one reason a row."""
    units = sizing.study.model.units
    rows: list[Sequence[str | Cell]] = []
    for row in sizing.hand.to_dict("records"):
        unit = UNITS[str(row["unit"])]
        change = row["change"]
        told = DASH if change != change else f"{'+' if change >= 0 else ''}{figure(change, unit, units)}"
        need = "none is enough" if row["need"] != row["need"] else figure(row["need"], unit, units)
        rows.append([STEPS[str(row["step"])], need, told, str(row["why"])])
    heads = ["", "Nominal size", "Change", "Why"]
    return table("The hand method, and what it leaves out", heads, [Group("", rows)], (3,), "figures rows")


def notes(sizing: Any) -> Shown:
    """What a reader must know of these figures."""
    return bullets(
        [
            "Every configuration is walked through an outage from each step of the year, as an option of the "
            "study is; none is fitted or sampled. What the catalogue does not hold is not found.",
            "Chances count outages of the place that last so long, machines that fail, and the charge that "
            "everyday use leaves. Costs are lifetime costs with every bill of the house.",
            "Packs, units and arrays are priced in proportion; ask for a quotation before buying.",
        ]
    )


def _need_have(sizing: Any, row: dict[Any, Any]) -> tuple[str, str]:
    unit = str(row["unit"])
    if unit == "yes/no":
        return "yes", "no"
    if unit == sizing.study.model.money.currency:
        return _usd(sizing, row["need"]), _usd(sizing, row["have"])
    kind = UNITS.get(unit, "count")
    need, have = (figure(float(row[k]), kind, sizing.study.model.units) for k in ("need", "have"))
    return need, have


def _lack(sizing: Any, row: dict[Any, Any]) -> str:
    need, have = _need_have(sizing, row)
    return f"{REASONS[str(row['fails'])]}: needs {need}, has {have}"


def _usd(sizing: Any, value: float) -> str:
    return whole_money(float(value), sizing.study.model.money.currency)
