"""All that money reads of one option's physics, as plain numbers: what draws vary and tables are made of."""

from __future__ import annotations

from dataclasses import dataclass

from kit.account.time_value import Floats
from kit.operate.outage_year import OutageYear
from kit.stages.daily import Daily
from kit.stages.outage import OutageSide
from kit.stages.sources import Sources


@dataclass(frozen=True, eq=False)
class YearFigures:
    """One option's year as money sees it, at today's prices.

    bill_usd_by_year (N,): of years 1..N. energy_usd_per_kwh: mean price of the year's bought energy.
    run_h, fuel: of outages alone, `fuel` in the set's unit. drawn_kwh: stored energy that outages took.
    unserved_h: must-run hours without power. losses_usd: named or published losses of a year, None
    where the study has none of them. life_years: of the battery, None without one.
    """

    bill_usd_by_year: Floats
    energy_usd_per_kwh: float
    import_kwh: float
    export_kwh: float
    throughput_kwh: float
    life_years: float | None
    free_count: int
    programme_usd: float | None
    run_h: float
    fuel: float
    drawn_kwh: float
    charge_efficiency_frac: float
    unserved_h: float
    forewarned_usd: float
    losses_usd: float | None


def year_figures(option: Sources, daily: Daily, outage: OutageSide, missed: OutageYear) -> YearFigures:
    """The figures of one option. missed: the outages of doing nothing."""
    bought_kwh = float(daily.use.import_kwh.sum())
    energy_usd = sum(
        float(line.usd.sum()) for line in daily.bill.bill_lines if line.part in ("energy", "rider")
    )
    return YearFigures(
        bill_usd_by_year=daily.bill_usd_by_year,
        energy_usd_per_kwh=energy_usd / bought_kwh if bought_kwh > 0 else 0.0,
        import_kwh=bought_kwh,
        export_kwh=float(daily.use.export_kwh.sum()),
        throughput_kwh=daily.use.throughput_kwh,
        life_years=None if daily.wear is None else daily.wear.life_years,
        free_count=0 if daily.wear is None else daily.wear.free_count,
        programme_usd=daily.programme_usd,
        run_h=outage.year.set_run_h,
        fuel=outage.year.fuel,
        drawn_kwh=outage.year.drawn_kwh,
        charge_efficiency_frac=1.0 if option.battery is None else option.battery.charge_efficiency_frac,
        unserved_h=unserved_h(option, outage.year, missed),
        forewarned_usd=outage.forewarned_usd,
        losses_usd=None if outage.lost_load is None else outage.lost_load.usd_per_year,
    )


def unserved_h(option: Sources, year: OutageYear, missed: OutageYear) -> float:
    """Must-run hours without power a year: all of them where a load asked for is on no circuit."""
    if option.unreached:
        return missed.must_unserved_h
    return year.must_unserved_h
