"""A study with its physics computed once: any of its numbers can then be moved at little cost.

What moves only money goes through the formulas of account() on arrays (kit.vary.many). Outage rates
enter the expected year exactly, kind by kind. Any other number moves along its own axis (kit.vary.axes):
exact runs at its low and high value, straight lines between, differences of several numbers added up.
What that leaves out is measured on joint exact runs (kit.vary.draws), not assumed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kit.stages.choose import cost_column, may_win, winners
from kit.stages.sources import DO_NOTHING
from kit.study import Study
from kit.vary.axes import Axis, exact_rows
from kit.vary.kept import Kept, Stages, kept_with
from kit.vary.many import ManyFigures, ManyLifetimes, lifetimes_of, part_of
from kit.vary.parts import Known, Layout, figures_at, inside, ride_through_frac, rows_of
from kit.vary.ranges import BLINKS, RATE, Range, ranges_of
from kit.vary.values import tree_of, with_values

Floats = NDArray[np.float64]
STAY = "asked.stay_years"  # may be lower than that of the stages, never higher
GRID = 3  # values of each physical number that are run: low, likely, high
FINER = 5  # of the appliances' loads, on which it depends whether an option can start them at all


@dataclass(frozen=True, eq=False)
class Standing:
    """Every option under n settings: arrays (n, options), options in the order of `slugs`.

    stands: may be chosen under the study's rule. judged_usd: the cost that ranks. winner (n,): place of the
    chosen one, -1 where nobody stands. paid_usd: cash but lost load by year (n, options, N+1).
    """

    slugs: tuple[str, ...]
    lifetime_cost_usd: Floats
    lifetime_cost_with_lost_load_usd: Floats
    up_front_usd: Floats
    net_saving_usd: Floats
    must_run_unserved_h_per_year: Floats
    ride_through_frac_asked: Floats
    stands: NDArray[np.bool_]
    judged_usd: Floats
    winner: NDArray[np.int64]
    paid_usd: Floats

    def place(self, slug: str) -> int:
        """Column of an option."""
        return self.slugs.index(slug)

    def winner_slugs(self) -> list[str | None]:
        """Who wins in each setting."""
        return [self.slugs[w] if w >= 0 else None for w in self.winner]


@dataclass(eq=False)
class Ground:
    """A study, its stages, and exact runs along axes, made when first needed."""

    study: Study
    stages: Stages
    grid_count: int = GRID
    axes: dict[str, Axis] = field(default_factory=dict)
    searched: dict[str, Range] = field(default_factory=dict)  # numbers moved without a range of the study

    @cached_property
    def ranges(self) -> tuple[Range, ...]:
        """What the study does not know."""
        return ranges_of(self.study)

    @cached_property
    def known(self) -> Known:
        """The likely rows, and what exact runs start from."""
        asked = self.study.model.asked
        layout = Layout(asked.stay_years, len(self.stages.kinds), asked.keep_on_h)
        return Known(self.study, self.stages, layout, rows_of(self.study, self.stages))

    @property
    def layout(self) -> Layout:
        return self.known.layout

    @property
    def rows(self) -> Mapping[str, Floats]:
        """The likely row of every option."""
        return self.known.rows

    @cached_property
    def rates(self) -> Floats:
        """Events a year of each kind."""
        return np.array([kind.events_per_year for kind in self.stages.kinds])

    @property
    def slugs(self) -> tuple[str, ...]:
        return tuple(self.stages.options)

    def explore(self, ranges: Sequence[Range] | None = None, progress: str = "exact runs") -> None:
        """Run the axes of the physical ranges that have none yet; a progress bar shows on a terminal."""
        from tqdm import tqdm  # type: ignore[import-untyped]

        wanted = self.ranges if ranges is None else ranges
        new = [one for one in wanted if one.moves == "physics" and one.key not in self.axes]
        if not new:
            return
        kept = kept_with(self.study, self.stages.house)
        for one in tqdm(new, desc=progress, unit="", disable=None, leave=False):
            self.axes[one.key] = self._axis(one, kept)

    def _axis(self, one: Range, kept: Kept) -> Axis:
        count = max(self.grid_count, FINER) if one.members else self.grid_count
        places = np.linspace(-1.0, 1.0, count)
        places = np.array(sorted({0.0, *(p for p in places if one.at(p) != one.likely)}))
        made = {p: exact_rows(self.known, one.settings(one.at(float(p))), kept) for p in places if p != 0.0}
        touched = sorted({slug for rows in made.values() for slug in rows})
        rows = {slug: np.array([made[p][slug] if p else self.rows[slug] for p in places]) for slug in touched}
        return Axis(places, rows)

    def standing(
        self,
        values: Mapping[str, ArrayLike] | None = None,
        *,
        rate_factor: ArrayLike = 1.0,
        rows: Mapping[str, Floats] | None = None,
        only: Sequence[str] | None = None,
    ) -> Standing:
        """Every option under n settings at once.

        values: range key (first path) -> its values (n,) in the kit's unit; what is absent is likely.
        rate_factor (n,): on every outage rate. rows: rows (n, L) in place of the likely ones, by option.
        only: slugs wanted, doing nothing always among them; the rest stays out of the arrays.
        """
        given = {key: np.atleast_1d(np.asarray(v, dtype=float)) for key, v in (values or {}).items()}
        factor = np.atleast_1d(np.asarray(rate_factor, dtype=float))
        sizes = [v.size for v in given.values()] + [factor.size] + [r.shape[0] for r in (rows or {}).values()]
        count = max(sizes)
        given = {key: np.broadcast_to(v, (count,)) for key, v in given.items()}
        ranges = {one.key: one for one in self.ranges} | self.searched
        self.explore([ranges[key] for key in given if key in ranges])
        slugs = self.slugs if only is None else tuple(s for s in self.slugs if s in {DO_NOTHING, *only})
        places = {
            key: np.array([ranges[key].place_of(float(v)) for v in values])
            for key, values in given.items()
            if key in self.axes
        }
        by_option = {slug: self._moved(slug, places, count, (rows or {}).get(slug)) for slug in slugs}
        rates, blinks = self._rates(given, np.broadcast_to(factor, (count,)))
        paths = {
            path: v
            for key, v in given.items()
            if not (key in ranges and ranges[key].members)  # loads: no money reads them
            for path in (ranges[key].paths if key in ranges else (key,))
        }
        return self._gathered(slugs, count, paths, by_option, rates, blinks)

    def _moved(self, slug: str, places: Mapping[str, Floats], count: int, own: Floats | None) -> Floats:
        """Rows (n, L) of one option with the differences of all axes added."""
        moved = np.broadcast_to(self.rows[slug] if own is None else own, (count, self.rows[slug].size)).copy()
        for key, place in places.items():
            moved += self.axes[key].change(slug, place)
        return inside(moved, self.layout)

    def _rates(self, given: Mapping[str, Floats], factor: Floats) -> tuple[Floats, Floats]:
        """Events a year of each kind (n, kinds), and momentary interruptions a year (n,)."""
        rates = np.broadcast_to(self.rates, (factor.size, self.rates.size)).copy()
        numbers = [kind.slug for kind in self.stages.kinds]
        blinks = np.full(factor.size, self.study.model.outages.blinks_per_year)
        for key, values in given.items():
            found = RATE.fullmatch(key)
            if found:
                rates[:, numbers.index(found[1])] = values
            elif key == BLINKS:
                blinks = np.asarray(values)
        return rates * factor[:, None], blinks

    def _money(
        self,
        rows: NDArray[np.int64],
        years: int,
        paths: Mapping[str, Floats],
        figures: Mapping[str, ManyFigures],
    ) -> dict[str, ManyLifetimes]:
        """The money of every option in some of the settings, those of one length of stay."""
        numbers = {path: values[rows] for path, values in paths.items() if path != STAY}
        model = with_values(self.study.model, tree_of({**numbers, STAY: years}))
        options = {
            slug: replace(self.stages.options[slug], option=model.options.get(slug)) for slug in figures
        }
        return lifetimes_of(model, options, {slug: part_of(one, rows) for slug, one in figures.items()})

    def _gathered(
        self,
        slugs: tuple[str, ...],
        count: int,
        paths: Mapping[str, Floats],
        by_option: Mapping[str, Floats],
        rates: Floats,
        blinks: Floats,
    ) -> Standing:
        model = self.study.model
        asked, terms = model.asked, model.money
        has_losses = terms.lost_load is not None or bool(terms.event_losses)
        figures = {
            slug: figures_at(rows, self.layout, rates, blinks, has_losses) for slug, rows in by_option.items()
        }
        stay = np.broadcast_to(paths.get(STAY, np.array([float(asked.stay_years)])), (count,)).astype(int)
        cost, with_lost, up_front, saving = (np.zeros((count, len(slugs))) for _ in range(4))
        paid = np.zeros((count, len(slugs), int(stay.max()) + 1))
        for years in np.unique(stay):
            rows = np.flatnonzero(stay == years)
            made = self._money(rows, int(years), paths, figures)
            for k, slug in enumerate(slugs):
                one = made[slug]
                cost[rows, k], with_lost[rows, k] = one.cost_usd, one.with_lost_load_usd
                up_front[rows, k] = one.up_front_usd
                saving[rows, k] = made[DO_NOTHING].cost_usd - one.cost_usd
                paid[rows, k, : years + 1] = one.paid_usd_by_year
        ride = np.column_stack([ride_through_frac(by_option[s], self.layout, rates) for s in slugs])
        feasible = np.column_stack([by_option[s][:, self.layout.place("feasible")] > 0.5 for s in slugs])
        alive = ~np.array([bool(self.stages.options[s].loads.life_support) for s in slugs])
        meets = (ride >= asked.chance_frac) & feasible & alive
        stands = may_win(asked, meets, feasible, up_front)
        judged = cost if cost_column(asked) == "lifetime_cost_usd" else with_lost
        return Standing(
            slugs=slugs,
            lifetime_cost_usd=cost,
            lifetime_cost_with_lost_load_usd=with_lost,
            up_front_usd=up_front,
            net_saving_usd=saving,
            must_run_unserved_h_per_year=np.column_stack([figures[s].unserved_h for s in slugs]),
            ride_through_frac_asked=ride,
            stands=stands,
            judged_usd=judged,
            winner=winners(stands, judged),
            paid_usd=paid,
        )
