"""Rate plans side by side: the year's bill of every plan, with and without each option.

Everyday use is planned anew under each plan: the battery's own policy with the plan's prices makes the
bill that is claimed; the exact optimum for the plan's marginal prices is told beside it. Bills are those
of year 1 at today's prices; energy that refills a battery after outages is not in them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from kit.grid.bill import Bill, bill, bill_findings
from kit.grid.price_series import PriceSeriesError
from kit.grid.rate_record import read_records
from kit.grid.rates import prepare
from kit.house import HouseYear, house_year
from kit.stages.daily import best_schedule, marginal_note, use_of
from kit.stages.sources import DO_NOTHING, Sources, sources
from kit.study import Study, StudyError
from kit.study.plan_files import plan_root, read_plan
from kit.study.problems import Problem
from kit.study.rate_models import RatePlan

if TYPE_CHECKING:
    import pandas as pd

TODAY = "today"
PARTS = ("fixed", "energy", "rider", "demand", "minimum", "credit", "true_up", "tax")


@dataclass(frozen=True)
class PlanFile:
    """A plan of a folder: its name, and what an imported record could not say or left open."""

    slug: str
    name: str
    plan: RatePlan
    notes: tuple[str, ...] = ()
    as_yaml: str | None = None


@dataclass(frozen=True, eq=False)
class PlanCase:
    """One option under one plan: the bill claimed, and with perfect foresight where it has a battery."""

    bill: Bill
    best_usd: float | None
    best_note: str


@dataclass(frozen=True, eq=False)
class PlanComparison:
    """Every plan with every option of a study.

    plans: in the order of the doing-nothing bill, cheapest first. cases: (plan, option) -> case.
    failed: plan slug -> why it cannot be laid over this year. notes: plan slug -> what to know about it.
    """

    study: Study
    house: HouseYear
    options: dict[str, Sources]
    plans: dict[str, PlanFile]
    cases: dict[tuple[str, str], PlanCase]
    today: str
    failed: dict[str, str] = field(default_factory=dict)
    notes: dict[str, tuple[str, ...]] = field(default_factory=dict)

    def usd(self, plan: str, option: str) -> float:
        """The year's bill of one case [USD]."""
        return self.cases[plan, option].bill.total_usd

    def best_plan(self, option: str) -> str:
        """Slug of the plan with the lowest bill for an option."""
        return min(self.plans, key=lambda plan: self.usd(plan, option))

    def best_bill(self, option: str) -> Bill:
        """The bills of an option under its best plan. ValueError for an unknown option."""
        if option not in self.options:
            raise ValueError(f"there is no option {option!r}; the study has {', '.join(self.options)}")
        return self.cases[self.best_plan(option), option].bill

    @property
    def currency(self) -> str:
        """The study's currency, as three letters."""
        return self.study.model.money.currency

    @cached_property
    def table(self) -> pd.DataFrame:
        """One row a plan and option.

        Columns: plan, plan_name, today, option, bill_usd_per_year, saving_usd_per_year (doing nothing
        under the same plan less this), saving_from_today_usd_per_year (doing nothing under today's plan
        less this), best_plan_for_option, foresight_usd_per_year, foresight_note, one a part of the bill.
        """
        import pandas as pd

        base = self.usd(self.today, DO_NOTHING)
        rows = []
        for plan, option in self.cases:
            case, usd = self.cases[plan, option], self.usd(plan, option)
            row: dict[str, object] = {
                "plan": plan,
                "plan_name": self.plans[plan].name,
                "today": plan == self.today,
                "option": option,
                "bill_usd_per_year": usd,
                "saving_usd_per_year": self.usd(plan, DO_NOTHING) - usd,
                "saving_from_today_usd_per_year": base - usd,
                "best_plan_for_option": plan == self.best_plan(option),
                "foresight_usd_per_year": case.best_usd,
                "foresight_note": case.best_note,
            }
            parts = case.bill.part_usd
            rows.append(row | {f"{part}_usd_per_year": parts.get(part, 0.0) for part in PARTS})
        return pd.DataFrame(rows)

    @cached_property
    def lines(self) -> pd.DataFrame:
        """Every line of every bill: plan, option, month, line, quantity, unit, price, usd."""
        import pandas as pd

        made = [
            case.bill.lines.assign(plan=plan, option=option) for (plan, option), case in self.cases.items()
        ]
        whole = pd.concat(made, ignore_index=True)
        return whole[["plan", "option", *whole.columns.drop(["plan", "option"])]]


def read_plans(folder: str | Path, study: Study, near: Path | None = None) -> dict[str, PlanFile]:
    """Every plan of a folder: parameter files (.yaml, .yml) and records of the open rate database (.json).

    A relative `folder` is tried from the current folder, then from `near`.

    Raises:
        StudyError: no such folder, no plan in it, or a file that is no plan, with every problem.
        RecordError: a record that cannot be read as a plan.
    """
    place = Path(folder)
    if not place.is_dir() and near is not None and (near / place).is_dir():
        place = near / place
    files = sorted(p for p in place.glob("*") if p.suffix.lower() in (".yaml", ".yml", ".json"))
    if not files:
        rule = "no such folder" if not place.is_dir() else "holds no rate plan (.yaml, or .json records)"
        raise StudyError([Problem(str(folder), 0, 0, "", rule)])
    found: dict[str, PlanFile] = {}
    problems: list[Problem] = []
    root = plan_root(place, study.root)
    for file in files:
        try:
            for one in _of_file(file, root):
                slug = one.slug if one.slug not in found else f"{one.slug}_{file.suffix[1:].lower()}"
                found[slug] = replace(one, slug=slug)
        except StudyError as error:
            problems += error.problems
    if problems:
        raise StudyError(problems)
    return found


def _of_file(file: Path, root: Path) -> list[PlanFile]:
    if file.suffix.lower() == ".json":
        return [
            PlanFile(
                r.slug,
                r.plan.name or r.slug,
                r.plan,
                (*(f"not in the plan: {t}" for t in r.left_out), *(f"assumed: {t}" for t in r.assumed)),
                r.as_yaml(),
            )
            for r in read_records(file)
        ]
    plan = read_plan(file, root)
    return [PlanFile(file.stem, plan.name or file.stem.replace("_", " "), plan)]


def compare_plans(
    study: Study, plans: Mapping[str, PlanFile], house: HouseYear | None = None
) -> PlanComparison:
    """The year's bill of every plan with every option of a study, doing nothing included.

    Today's plan is among them: the plan of the folder that equals it, else one more named `today`.
    A plan that cannot be laid over the year (its price series is of another one) is told in `failed`.

    Raises:
        ValueError: today's own plan cannot be used; MeterError, WeatherError as in compare().
    """
    place = house if house is not None else house_year(study.model.house, study.model.year)
    options = sources(study, place)
    mine = study.model.rate_plan
    files = dict(plans)
    today = next((slug for slug, one in files.items() if one.plan == mine), TODAY)
    if today not in files:
        files[today] = PlanFile(today, f"{mine.name or 'Plan of the study'}, today", mine)
    usable, failed = {}, {}
    for slug, one in files.items():
        try:
            prepare(one.plan, place.year)
            usable[slug] = one
        except PriceSeriesError as error:
            if slug == today:
                raise
            failed[slug] = str(error)
    cases = {(p, o): _case(place, options[o], usable[p].plan) for p in usable for o in options}
    order = sorted(usable, key=lambda p: cases[p, DO_NOTHING].bill.total_usd)
    sorted_cases = {(p, o): cases[p, o] for p in order for o in options}
    notes = {p: _notes(usable[p], place, options, cases) for p in order}
    ranked = {p: usable[p] for p in order}
    return PlanComparison(study, place, options, ranked, sorted_cases, today, failed, notes)


def _case(house: HouseYear, option: Sources, plan: RatePlan) -> PlanCase:
    """One option under one plan, its use planned for that plan's prices."""
    case = _under(option, plan)
    use = use_of(house, case, 0)
    made = bill(plan, house.year, use.import_kwh, use.export_kwh)
    if case.battery is None:
        return PlanCase(made, None, "")
    best = best_schedule(house, case, case.battery, case.solar_kw)
    best_usd = bill(plan, house.year, best.import_kwh, best.export_kwh).total_usd
    return PlanCase(made, best_usd, " ".join(text for text in (marginal_note(plan), best.note) if text))


def _under(option: Sources, plan: RatePlan) -> Sources:
    """The option under a plan; hours named after periods that the plan does not have are planned anew."""
    block = option.option
    if block is None or block.battery is None:
        return replace(option, plan=plan)
    names = {slug for version in plan.versions() for slug in version.energy}
    fields = ("charge_periods", "discharge_periods")
    strange = {key: None for key in fields if set(getattr(block.battery, key) or ()) - names}
    battery = block.battery.model_copy(update=strange)
    return replace(option, plan=plan, option=block.model_copy(update={"battery": battery}))


def _notes(
    one: PlanFile, house: HouseYear, options: dict[str, Sources], cases: dict[tuple[str, str], PlanCase]
) -> tuple[str, ...]:
    """What a reader must know about a plan: of the import, of its bills, of hours named for another plan."""
    found = list(one.notes)
    for slug in options:
        made = cases[one.slug, slug].bill
        credit = made.unused_credit_usd > 0.005 or made.unused_credit_kwh > 0.5
        found += [
            f"{options[slug].name}: {f.text}" if credit and f.code == "credit_unused" else f.text
            for f in bill_findings(one.plan, house.year, made)
        ]
        if _under(options[slug], one.plan).option != options[slug].option:
            found.append(f"{options[slug].name}: hours named for another plan are planned from prices here")
    return tuple(dict.fromkeys(found))
