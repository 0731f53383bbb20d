"""The answer: the cheapest option among those that meet what was asked, and what would change it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from kit.stages.choose import cost_column, may_win
from kit.stages.columns import Value
from kit.stages.sources import DO_NOTHING, Sources
from kit.stages.worth import by_value
from kit.study import Study
from kit.units import chance_text

Row = dict[str, Value]


@dataclass(frozen=True)
class Verdict:
    """Three sentences (a fourth where the winner has solar that is off in an outage), who wins (None: nothing
    meets the target), who meets it, what would flip it.
    """

    sentences: tuple[str, ...]
    winner: str | None
    meets: tuple[str, ...]
    flips: tuple[str, ...]


def decide(study: Study, options: dict[str, Sources], rows: dict[str, Row]) -> Verdict:
    """Apply the study's rule of choice (kit.stages.choose): the least cost among those that stand."""
    asked = study.model.asked
    meets = tuple(slug for slug, row in rows.items() if row["meets_target"])
    within = [
        s
        for s, row in rows.items()
        if may_win(asked, bool(row["meets_target"]), bool(row["feasible"]), _number(row, "up_front_usd"))
    ]
    ranked = sorted(within, key=lambda s: _number(rows[s], cost_column(asked)))
    winner = ranked[0] if ranked else None
    if winner is not None and asked.judged_by == "value":
        return Verdict(
            by_value(study, {s: o.name for s, o in options.items()}, rows, ranked), winner, meets, ()
        )
    if winner is None:
        return Verdict(_nobody(study, options, rows, meets), None, meets, _nearest(study, options, rows))
    return Verdict(
        _somebody(study, options, rows, ranked),
        winner,
        meets,
        _flips(study, options, rows, ranked),
    )


def _somebody(
    study: Study, options: dict[str, Sources], rows: dict[str, Row], ranked: list[str]
) -> tuple[str, ...]:
    winner, asked = ranked[0], study.model.asked
    row, nothing = rows[winner], rows[DO_NOTHING]
    kind = _kind(options[winner])
    of_all = f"Of the {len(rows) - 1} options compared, " if len(rows) > 2 else ""
    rank = "is the cheapest that keeps" if of_all else "keeps"
    first = (
        f"{of_all}{options[winner].name} {rank} the {_loads(study)} loads on "
        f"for {asked.keep_on_h:g} h with a chance of {chance_text(asked.chance_frac)} "
        f"or better ({chance_text(_ride(row))}): {kind}."
    )
    extra = _number(row, "equivalent_annual_cost_usd") - _number(nothing, "equivalent_annual_cost_usd")
    money = study.model.money
    if extra >= 0:
        second = f"Over {asked.stay_years} years it costs {_usd(extra, study)} a year more than doing nothing"
    else:
        second = f"Over {asked.stay_years} years it saves {_usd(-extra, study)} a year against doing nothing"
    hours = _number(nothing, "must_run_unserved_h_per_year") - _number(row, "must_run_unserved_h_per_year")
    second += (
        f" ({money.money_basis} {money.price_year} money) and keeps the must-run loads on "
        f"for {hours:.1f} h a year that would be dark"
    )
    worth = row["usd_per_avoided_outage_h"]
    if extra > 0 and isinstance(worth, float):
        second += f"; doing nothing is cheaper unless such an hour is worth more than {_usd(worth, study)}"
    return (
        first,
        second + ".",
        _against(study, options, rows, ranked),
        *_solar_apart(study, options, rows, winner),
    )


def _solar_apart(
    study: Study, options: dict[str, Sources], rows: dict[str, Row], winner: str
) -> tuple[str, ...]:
    """Where the winner's solar does nothing in an outage: what it earns, and what the backup alone costs."""
    option = options[winner]
    block = option.option
    if block is None or block.solar is None or (option.battery and block.solar.charges_battery_in_outage):
        return ()
    earns = _usd(_number(rows[winner], "saving_from_solar_usd_per_year"), study)
    text = f"Its solar is off in an outage; it takes {earns} a year off the bill whatever backs the house up"
    bare = block.model_copy(update={"solar": None, "name": None})
    alone = [s for s, o in options.items() if o.option and o.option.model_copy(update={"name": None}) == bare]
    if alone:
        extra = _number(rows[alone[0]], "equivalent_annual_cost_usd")
        extra -= _number(rows[DO_NOTHING], "equivalent_annual_cost_usd")
        text += f", and without it the backup alone costs {_usd(extra, study)} a year more than doing nothing"
    return (text + ".",)


def _against(study: Study, options: dict[str, Sources], rows: dict[str, Row], ranked: list[str]) -> str:
    winner = ranked[0]
    change = _number(rows[winner], "co2e_kg_per_year") - _number(rows[DO_NOTHING], "co2e_kg_per_year")
    air = f"It {'adds' if change >= 0 else 'avoids'} {abs(change):,.0f} kg of CO2e a year"
    if len(ranked) == 1:
        return f"{air}; {_no_other(study, rows)}."
    other = ranked[1]
    gap = _number(rows[other], "lifetime_cost_usd") - _number(rows[winner], "lifetime_cost_usd")
    return (
        f"{air}; the next that meets it, {options[other].name}, costs {_usd(gap, study)} more over its life."
    )


def _no_other(study: Study, rows: dict[str, Row]) -> str:
    count = sum(bool(row["meets_target"]) for row in rows.values())
    over = "" if count == 1 else f" within the budget of {_usd(study.model.asked.budget_usd, study)}"
    return f"no other option meets what was asked{over}"


def _nobody(
    study: Study, options: dict[str, Sources], rows: dict[str, Row], meets: tuple[str, ...]
) -> tuple[str, ...]:
    asked = study.model.asked
    within = "" if not meets else f" within the budget of {_usd(asked.budget_usd, study)}"
    first = (
        f"No option keeps the {_loads(study)} loads on for {asked.keep_on_h:g} h "
        f"with a chance of {chance_text(asked.chance_frac)} or better{within}."
    )
    cheapest = min(
        (s for s, row in rows.items() if row["feasible"]),
        key=lambda s: _number(rows[s], "lifetime_cost_usd"),
    )
    name = "Doing nothing" if cheapest == DO_NOTHING else options[cheapest].name
    last = f"{name} has the lowest lifetime cost of all."
    if any(option.loads.life_support for option in options.values()):
        first = "A load on the list keeps someone alive: no option here may be called adequate for that."
        return first, "Keep a plan that needs no electricity; the figures below are for planning only.", last
    if meets:
        least = min(meets, key=lambda s: _number(rows[s], "up_front_usd"))
        cost = _usd(_number(rows[least], "up_front_usd"), study)
        second = f"{options[least].name} is the least dear to buy that would do it, at {cost} up front"
        return first, f"{second}; {_a_year_more(study, rows, least)}.", last
    best = _best(rows)
    if best is None:
        second = "None of them gives power for that long here; the power and start check says why."
        return first, second, last
    second = f"{options[best].name} comes nearest, with {chance_text(_ride(rows[best]))}"
    return first, f"{second}; {_a_year_more(study, rows, best)}.", last


def _a_year_more(study: Study, rows: dict[str, Row], slug: str) -> str:
    name = "equivalent_annual_cost_usd"
    extra = _number(rows[slug], name) - _number(rows[DO_NOTHING], name)
    return f"it costs {_usd(abs(extra), study)} a year {'more' if extra >= 0 else 'less'} than doing nothing"


def _flips(
    study: Study, options: dict[str, Sources], rows: dict[str, Row], ranked: list[str]
) -> tuple[str, ...]:
    """What would change the answer, from figures already at hand."""
    winner, asked, found = ranked[0], study.model.asked, []
    aged = rows[winner]["ride_through_frac_asked_aged"]
    if isinstance(aged, float) and aged < asked.chance_frac:
        found.append(
            f"With the battery as old as it gets in the stay, {options[winner].name} no longer does it: "
            f"the chance falls to {chance_text(aged)}."
        )
    if len(ranked) > 1:
        other = ranked[1]
        gap = _number(rows[other], "lifetime_cost_usd") - _number(rows[winner], "lifetime_cost_usd")
        found.append(_price_flip(study, options[other].name, gap, _number(rows[other], "up_front_usd")))
    for s, row in rows.items():
        gap = _number(rows[winner], "lifetime_cost_usd") - _number(row, "lifetime_cost_usd")
        if row["meets_target"] and s not in ranked and gap > 0:
            cost = _usd(_number(row, "up_front_usd"), study)
            found.append(f"{options[s].name} would win with a budget of {cost}.")
    cheaper = [
        s
        for s, row in rows.items()
        if row["feasible"]
        and not row["meets_target"]
        and s != DO_NOTHING
        and options[s].backs_up
        and _number(row, "lifetime_cost_usd") < _number(rows[winner], "lifetime_cost_usd")
    ]
    for s in sorted(cheaper, key=lambda s: -_ride(rows[s]))[:2]:
        found.append(
            f"{options[s].name} is cheaper and would do if a chance of {chance_text(_ride(rows[s]))} "
            f"were enough for {asked.keep_on_h:g} h."
        )
    worth = rows[winner]["usd_per_avoided_outage_h"]
    if isinstance(worth, float) and worth > 0:
        found.append(
            "Doing nothing would win on money if an outage hour avoided is worth less than "
            f"{_usd(worth, study)} to this household."
        )
    return tuple(found)


def _nearest(study: Study, options: dict[str, Sources], rows: dict[str, Row]) -> tuple[str, ...]:
    if any(option.loads.life_support for option in options.values()):
        return ()
    met = [s for s, row in rows.items() if row["meets_target"]]
    if met:
        least = min(met, key=lambda s: _number(rows[s], "up_front_usd"))
        cost = _usd(_number(rows[least], "up_front_usd"), study)
        return (f"{options[least].name} would meet it with a budget of {cost}.",)
    best = _best(rows)
    if best is None:
        return ()
    return (
        f"{options[best].name} would meet it if a chance of {chance_text(_ride(rows[best]))} were enough.",
    )


def _price_flip(study: Study, name: str, gap_usd: float, up_front_usd: float) -> str:
    if gap_usd >= up_front_usd:
        return f"{name} would not win at any price: it costs {_usd(gap_usd, study)} more over its life."
    return (
        f"{name} would win if it cost {_usd(gap_usd, study)} less up front (now {_usd(up_front_usd, study)})."
    )


def _best(rows: dict[str, Row]) -> str | None:
    able = [s for s, row in rows.items() if s != DO_NOTHING and row["feasible"]]
    able = [s for s in able if _ride(rows[s]) > 0]
    return max(able, key=lambda s: _ride(rows[s]), default=None)


def _ride(row: Row) -> float:
    return float(row["ride_through_frac_asked"] or 0.0)


def _kind(option: Sources) -> str:
    has = (
        option.battery is not None,
        option.generator is not None,
        bool(option.option and option.option.solar),
    )
    words = {
        (True, False, False): "here the battery wins",
        (True, False, True): "here the battery with solar wins",
        (False, True, False): "here the generator wins",
        (False, True, True): "here the generator with solar wins",
        (True, True, False): "here battery and generator together win",
        (True, True, True): "here battery, generator and solar together win",
    }
    return words.get(has, "here no backup source is needed")


def _loads(study: Study) -> str:
    return "must-run" if study.model.asked.loads == "must_run" else "must-run and wanted"


def _usd(value: float | None, study: Study) -> str:
    amount: Any = 0.0 if value is None else value
    digits = 0 if abs(amount) >= 100 else 2
    return f"{study.model.money.currency} {amount:,.{digits}f}"


def _number(row: Row, name: str) -> float:
    value = row[name]
    assert isinstance(value, float)
    return value
