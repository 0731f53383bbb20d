"""The result: a comparison of outcomes, as tables and as JSON."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from kit.fit import Fit
from kit.grid.bill import Bill, bill_findings
from kit.grid.record_findings import outage_findings
from kit.house import HouseYear
from kit.operate import walk as w
from kit.operate.everyday import Everyday
from kit.operate.outages import Backup
from kit.stages.ageing import Wear
from kit.stages.columns import Value
from kit.stages.daily import Daily, Foresight
from kit.stages.losses import LostLoad, loss_findings
from kit.stages.money import Account, Flows
from kit.stages.outage import OutageSide
from kit.stages.outcome_tables import FuelNeed, HardOutage, fuel_need, hard_outage
from kit.stages.programme import programme_findings
from kit.stages.sources import DO_NOTHING, Sources
from kit.stages.verdict import Verdict
from kit.study import Study
from kit.study.finding import Finding
from kit.study.models import Option
from kit.systems.generator import range_findings
from kit.systems.reliability import reliability_findings

if TYPE_CHECKING:
    import pandas as pd

SCHEMA_VERSION = 1
CURVE_HOURS = np.arange(0.0, 168.0 + 1.0)


@dataclass(frozen=True, eq=False)
class Outcome:
    """All that was found of one option.

    columns: the summary row. kept_on_frac: ride-through at CURVE_HOURS. Tables, made when asked for:
    hours_kept_on (hours, share_frac); cash (index year 0..N); hard_outage, one row a step, kW means, kWh
    stored and fuel at its end; fuel_need (L, or m3 of pipeline gas), empty without a generator.
    hard_event_h: length of the event that longest_unserved_h is about, h. lost_load: the year's losses line
    by line, where the study values them so. reasons: why a money measure is not a number.
    """

    slug: str
    name: str
    option: Option | None
    columns: dict[str, Value]
    reasons: dict[str, str]
    fit: Fit
    bill: Bill
    everyday: Everyday
    foresight: Foresight | None
    kept_on_frac: np.ndarray
    flows: Flows
    hard: HardOutage
    hard_outage_title: str
    hard_event_h: float
    fuel: FuelNeed
    fuel_unit: str
    standard_error_frac: float
    findings: tuple[Finding, ...]
    lost_load: LostLoad | None = None
    wear: Wear | None = None

    @cached_property
    def hours_kept_on(self) -> pd.DataFrame:
        import pandas as pd

        return pd.DataFrame({"hours": CURVE_HOURS, "share_frac": self.kept_on_frac})

    @property
    def cash(self) -> pd.DataFrame:
        return self.flows.cash

    @cached_property
    def hard_outage(self) -> pd.DataFrame:
        return self.hard.table()

    @cached_property
    def fuel_need(self) -> pd.DataFrame:
        return self.fuel.table()


@dataclass(frozen=True, eq=False)
class Comparison:
    """A study and what each option comes to; the first outcome is doing nothing."""

    study: Study
    house: HouseYear
    outcomes: dict[str, Outcome]
    verdict: Verdict
    findings: tuple[Finding, ...]
    assumptions: list[dict[str, Any]]

    @cached_property
    def summary(self) -> pd.DataFrame:
        """One row an option, one column a measure (the result vocabulary of DEVELOPERS.md)."""
        import pandas as pd

        return pd.DataFrame([{"option": o.slug, **o.columns} for o in self.outcomes.values()])

    def to_json(self) -> dict[str, Any]:
        """The summary with its study and findings, as plain JSON values (kit/report/result.schema.json)."""
        from kit import __version__

        model = self.study.model
        return {
            "schema_version": SCHEMA_VERSION,
            "study": {
                "name": model.name,
                "sha256": self.study.sha256,
                "kit_version": __version__,
                "seed": model.seed,
                "asked": model.asked.model_dump(),
                "baseline_option": DO_NOTHING,
                "currency": model.money.currency,
                "money_basis": model.money.money_basis,
                "price_year": model.money.price_year,
                "horizon_years": model.asked.stay_years,
            },
            "options": [{"option": o.slug, "name": o.name, **o.columns} for o in self.outcomes.values()],
            "verdict": {"winner": self.verdict.winner, "sentences": list(self.verdict.sentences)},
            "findings": [_said(f) for f in self.findings if f.severity != "warning"],
            "warnings": [_said(f) for f in self.findings if f.severity == "warning"],
            "assumptions": self.assumptions,
        }


def _said(finding: Finding) -> dict[str, Any]:
    return {name: value for name, value in asdict(finding).items() if name != "severity"}


def gather(
    study: Study,
    house: HouseYear,
    options: dict[str, Sources],
    fits: dict[str, Fit],
    daily: dict[str, Daily],
    outages: dict[str, OutageSide],
    accounts: dict[str, Account],
    rows: dict[str, dict[str, Value]],
    verdict: Verdict,
) -> Comparison:
    """Put what the stages found side by side, option by option."""
    outcomes = {}
    for slug, option in options.items():
        outage = outages[slug]
        outcomes[slug] = Outcome(
            slug=slug,
            name=option.name,
            option=option.option,
            columns=rows[slug],
            reasons=dict(accounts[slug].measures.reasons),
            fit=fits[slug],
            bill=daily[slug].bill,
            everyday=daily[slug].use,
            foresight=daily[slug].foresight,
            kept_on_frac=ride_through_curve(option, outage, CURVE_HOURS),
            flows=accounts[slug].flows,
            hard=hard_outage(outage),
            hard_outage_title=_hard_title(house, outage),
            hard_event_h=outage.year.hard_h,
            fuel=fuel_need(option, outage),
            fuel_unit=accounts[slug].flows.fuel_unit,
            standard_error_frac=outage.year.standard_error_frac(study.model.asked.keep_on_h),
            lost_load=outage.lost_load,
            wear=daily[slug].wear,
            findings=_option_findings(study, option, fits[slug], daily[slug], outage, house),
        )
    shared = (*house.findings, *outage_findings(study.model.outages))
    findings = _once([*shared, *(f for o in outcomes.values() for f in o.findings)])
    return Comparison(study, house, outcomes, verdict, findings, _assumptions(study))


def _option_findings(
    study: Study, option: Sources, fitted: Fit, daily: Daily, outage: OutageSide, house: HouseYear
) -> tuple[Finding, ...]:
    found = list(fitted.findings) if option.slug != DO_NOTHING else []
    found += bill_findings(option.plan, house.year, daily.bill)
    found += programme_findings(study, house, option, daily.use)
    found += outage.forewarned_findings
    found += loss_findings(study, house, option.slug, outage.lost_load)
    if outage.reliability is not None:
        found += reliability_findings(outage.reliability, option.slug)
    gap, b = outage.backup.set_gap, outage.backup
    if gap is not None and (gap.needs_person or b.refills_by_hand) and not b.attended.any():
        text = "Nobody is ever there to start or refuel the generator: house.attended_hours names no hour."
        found.append(Finding("nobody_there", option.slug, "house.attended_hours", text))
    found += _cut_delivery(b, option.slug)
    if option.generator is not None:
        ran = outage.hard[:, w.T_SET]
        found += range_findings(option.generator, ran[ran > 0], option.slug)
    year = outage.year
    if year.unserved_error_h > 0.0:
        error = 100.0 * year.standard_error_frac(72.0)
        chance = f"; {error:.2f} points in the chance at 72 h" if error > 0.0 else ""
        text = (
            "What chance decides (failures, people, gas) is drawn once for each start. Standard error about "
            f"{max(0.001, year.unserved_error_h):.3f} h in the hours a year without must-run power{chance}."
        )
        found.append(Finding("drawn_failures", option.slug, None, text, None, "note"))
    if option.battery is not None and option.option is not None and option.option.battery is not None:
        wear = daily.wear
        if wear is not None and wear.fades:
            path = f"options.{option.slug}.battery"
            left = wear.left_frac(min(5.0, wear.life_years * 0.999))
            text = f"Ride-through is that of the new battery; after 5 years {left:.0%} of it is left."
            found.append(Finding("new_battery", option.slug, path, text, None, "note"))
    return tuple(found)


def _cut_delivery(b: Backup, slug: str) -> list[Finding]:
    """A delivery of fuel larger than tank and cans: what they cannot hold is not counted."""
    block, g = b.generator_block, b.generator
    if block is None or g is None or g.tank_l is None:
        return []
    holds_l = max(g.tank_l, g.fuel_on_site_l or 0.0)
    if block.resupply_l <= holds_l:
        return []
    text = (
        f"A delivery of {block.resupply_l:,.1f} L is more than tank and cans hold: counted only up to "
        f"{holds_l:,.1f} L, the larger of fuel_on_site_l and tank_l."
    )
    return [Finding("delivery_cut", slug, f"options.{slug}.generator.resupply_l", text)]


def _once(findings: list[Finding]) -> tuple[Finding, ...]:
    return tuple(dict.fromkeys(findings))


def ride_through_curve(option: Sources, outage: OutageSide, hours: np.ndarray) -> np.ndarray:
    """`ride_through_frac` of an option at many hours (H,)."""
    if not option.backs_up or option.unreached:
        return np.zeros(hours.size)
    return outage.year.ride_through_curve(hours)


def _hard_title(house: HouseYear, outage: OutageSide) -> str:
    begin = house.year.index[outage.hard_start]
    hours = outage.hard.shape[0] * house.year.step_h
    return f"{hours:g} h from {begin:%-d %B}, {begin:%H:%M}"


def _assumptions(study: Study) -> list[dict[str, Any]]:
    """Blocks and values whose source says it is an assumption, or that have none."""
    seen: dict[tuple[str, int, str], dict[str, Any]] = {}
    for path, origin in study.provenance.items():
        source = origin.source
        if source is not None and "assum" not in source.lower() and "invented" not in source.lower():
            continue
        parent = path.rsplit(".", 1)[0]
        key = (parent, 0, source or "")
        option = path.split(".")[1] if path.startswith("options.") else None
        if key not in seen:
            text = "assumed, no source given" if source is None else source
            seen[key] = {
                "code": "assumption",
                "option": option,
                "path": parent,
                "text": text,
                "source": source,
            }
    return list(seen.values())
