"""How sure the answer is: the sentence, who wins how often, what the figures may be, luck apart."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pandas as pd

from kit.report.formats import CHANCE, DASH, figure, whole_money
from kit.report.html_table import Cell, Group, table
from kit.report.memo import unbroken
from kit.report.show import Shown, heading, paragraph, together
from kit.report.theme import looks
from kit.vary.doubt import NOBODY, Doubt
from kit.vary.draws import Draws, chances, intervals
from kit.vary.said import said

PLACE = "how-sure"
NO_RANGES = (
    "No number of this study has a low and a high value, so nothing is told of how sure the answer is: "
    "give ranges to the numbers nobody knows (prices, outages, lives)."
)


def awaited() -> None:
    """Keep a place in the notebook for the sentence on how sure the answer is, which `tell` fills."""
    from IPython.display import display

    display(paragraph("How sure that is stands further down.", "small"), display_id=PLACE)


def tell(comparison: Any, made: Doubt | None) -> None:
    """Put the sentence where `awaited` kept a place for it."""
    from IPython.display import update_display

    update_display(short(comparison, made), display_id=PLACE)


def names(comparison: Any) -> dict[str, str]:
    """Name of every option by its slug."""
    return {look.slug: look.name for look in looks(comparison)}


def short(comparison: Any, made: Doubt | None) -> Shown:
    """How sure the answer is and what turns it, by the rules of kit.vary.said."""
    if made is None:
        return paragraph(NO_RANGES, "small")
    return together([heading("How sure that is"), _sentences(comparison, made)])


def answer(comparison: Any, made: Doubt | None) -> Shown:
    """The same, and what it stands on."""
    if made is None:
        return paragraph(NO_RANGES)
    return together([_sentences(comparison, made), paragraph(_about(made.draws), "small")])


def _sentences(comparison: Any, made: Doubt) -> Shown:
    return paragraph(unbroken(" ".join(said(made.draws, made.turned, names(comparison)))))


def _about(draws: Draws) -> str:
    model = draws.ground.study.model
    points = "Sobol points" if draws.ground.study.model.draw_points == "sobol" else "a Latin hypercube"
    shape = "PERT" if model.draw_shape == "pert" else "triangular"
    numbers = sum(len(one.members) or 1 for unknown in draws.unknowns for one in unknown.ranges)
    return (
        f"{draws.count:,} draws on {points}, seed {model.seed}: {numbers} numbers with a low and a high, "
        f"{len(draws.unknowns)} of them independent, {shape} between low, likely and high. Lives and "
        f"failures enter by their expectation; luck is told apart. {_error(draws)}"
    )


def _error(draws: Draws) -> str:
    checks = draws.checks
    if checks.empty:
        return "Every number enters exactly."
    usd = float((checks["grid_usd"] - checks["exact_usd"]).abs().max())
    frac = float((checks["grid_frac"] - checks["exact_frac"]).abs().max())
    currency = draws.ground.study.model.money.currency
    return (
        "Physical numbers move between exact runs at their low, likely and high values, their differences "
        f"added up; against {_runs(checks['draw'].nunique())} that misses lifetime costs by at "
        f"most {figure(usd, 'usd', currency=currency)} and chances by at most {100.0 * frac:.2g} points."
    )


def _runs(count: int) -> str:
    return f"{count} exact joint run{'' if count == 1 else 's'}"


def chance_table(comparison: Any, draws: Draws) -> Shown:
    """One row an option: how often it wins, how often it may be chosen, how much it would be regretted."""
    currency = comparison.study.model.money.currency
    by_option = {str(row["option"]): row for row in chances(draws).to_dict("records")}
    rows: list[Sequence[str | Cell]] = []
    for look in looks(comparison):
        row = by_option[look.slug]
        rows.append(
            [
                look.label,
                share(row["wins_frac"], row["standard_error_frac"]) if row["stands_frac"] > 0.0 else DASH,
                figure(float(row["stands_frac"]), "frac"),
                with_error(row["regret_usd"], row["regret_error_usd"], currency),
            ]
        )
    if NOBODY in by_option:
        row = by_option[NOBODY]
        wins = share(row["wins_frac"], row["standard_error_frac"])
        rows.append(["No option may be chosen", wins, DASH, DASH])
    heads = ["", "Chosen in", "May be chosen in", "Expected regret"]
    note = (
        "Chosen: the cheapest that may be chosen, by the study's rule. Behind ± stands one standard error of "
        "plain draws, in points; scrambled points do better. Expected regret: what an option costs beyond "
        "the cheapest over the stay, in the mean over the draws in which it may be chosen."
    )
    caption = f"Who wins, of {draws.count:,} draws"
    return together([table(caption, heads, [Group("", rows)]), paragraph(note, "small")])


def share(frac: float, error: float) -> str:
    """A share with its standard error in points."""
    return f"{figure(float(frac), 'frac')} ± {100.0 * float(error):.1f}"


def with_error(value: Any, error: Any, currency: str) -> str:
    """Money with its standard error; a dash where there is none."""
    if value is None or pd.isna(value):
        return DASH
    return f"{whole_money(float(value), currency)} ± {float(error):,.0f}"


HEADS = {
    "lifetime_cost_usd": "Lifetime cost",
    "lifetime_cost_with_lost_load_usd": "With lost load",
    "net_saving_usd": "Net saving",
    "must_run_unserved_h_per_year": "Must-run off, h a year",
    "ride_through_frac_asked": "Chance at the asked hours",
}


def interval_table(comparison: Any, draws: Draws) -> Shown:
    """5, 50 and 95 % of the headline figures of every option."""
    currency = comparison.study.model.money.currency
    made = intervals(draws)
    used = [name for name in HEADS if (made["figure"] == name).any()]
    found = {(r["option"], r["figure"]): r for r in made.to_dict("records")}
    rows: list[Sequence[str | Cell]] = []
    for look in looks(comparison):
        rows.append([look.label, *(_band(found[look.slug, name], name, currency) for name in used)])
    heads = ["", *(HEADS[name] for name in used)]
    note = (
        "Above, the middle of the draws; below it, what one draw in twenty stays under and one in twenty "
        "exceeds. What luck adds to these is in the table of whole stays."
    )
    shown_table = table("What the figures may be", heads, [Group("", rows)], kind="figures bands")
    return together([shown_table, paragraph(note, "small")])


def _band(row: dict[Any, Any], name: str, currency: str) -> str:
    def text(value: float) -> str:
        if name.endswith("_usd"):
            return whole_money(value, currency)
        return figure(value, CHANCE if "_frac" in name else "h", with_unit="_frac" in name)

    middle, low, high = (text(row[which]) for which in ("p50", "p05", "p95"))
    return middle if low == middle == high else f"{middle}\n{unbroken(f'{low} to {high}')}"


def luck_apart(comparison: Any, draws: Draws, stays: pd.DataFrame) -> Shown:
    """Dark hours of a whole stay: what is not known about the expectation, and what is luck around it."""
    years = comparison.study.model.asked.stay_years
    by_option = {str(row["option"]): row for row in stays.to_dict("records")}
    made = intervals(draws)
    dark = made[made["figure"] == "must_run_unserved_h_per_year"]
    expected = {str(row["option"]): row for row in dark.to_dict("records")}
    rows = []
    for look in looks(comparison):
        lucky = by_option[look.slug]
        ends = [years * float(expected[look.slug][end]) for end in ("p50", "p05", "p95")]
        middle, *between = (_hours(value) for value in ends)
        chance = (_hours(float(lucky[f"dark_h_{end}"])) for end in ("p05", "p95"))
        rows.append([look.label, middle, " to ".join(between), " to ".join(chance)])
    heads = [
        "",
        "Expected,\nmiddle of the draws",
        "Expected, by what\nwe do not know",
        "Of a single stay,\nby luck",
    ]
    note = (
        "Both spans are 5 to 95%. What we do not know: the expectation under other rates, lengths and "
        "machines. Luck: the outages and failures of single stays at likely values. The first shrinks with "
        "better records, the second does not."
    )
    caption = f"Hours without must-run loads in a stay of {years} years"
    return together([table(caption, heads, [Group("", rows)]), paragraph(note, "small")])


def _hours(value: float) -> str:
    return figure(round(value, 2), "h", with_unit=False)
