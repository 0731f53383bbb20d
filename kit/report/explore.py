"""The explore notebook's controls: every move goes through the engine, the latched part at once.

A move shows the chosen option's chance and money straight away. When no control has moved for
`REST_S`, the whole comparison follows, an option at a time, and a new move breaks it off.
"""

from __future__ import annotations

import asyncio
import os
from collections.abc import Callable, Sequence
from importlib import resources
from pathlib import Path
from typing import Any

import ipywidgets as widgets
import yaml

import kit.report  # noqa: F401  # before altair: see there
from kit.grid.outage_log import OutageDataError
from kit.grid.price_series import PriceSeriesError
from kit.report.charts import hours_kept_on
from kit.report.explore_faces import all_options, answer_html, cautions_html, help_html, label, titled
from kit.report.explore_file import write_study
from kit.report.explore_settings import (
    MOST_PACKS,
    MOST_UNITS,
    Choices,
    Moves,
    changes,
    moved_words,
    moves_of,
    settings,
)
from kit.report.explore_words import HELD, HELP
from kit.report.outage_charts import hard_outage
from kit.report.run import MemoError, write_memo
from kit.report.show import chart_bundle, escape
from kit.save import SaveError
from kit.stages.sources import DO_NOTHING
from kit.study import Study, StudyError
from kit.study.names import option_names
from kit.vary.at_once import Session

REST_S = 0.6
WEEK_H = 168.0
_TOLD = (StudyError, OutageDataError, PriceSeriesError, SaveError, MemoError)
_SLIDERS = ("keep_on_h", "unit_count", "packs_per_unit", "solar_kw", "reserve_frac", "fuel_price")
_FILES = ("outages", "rate_plan")


def controls(study: Study, folder: str | Path = "out/explore", set_values: Sequence[str] = ()) -> Any:
    """The controls with their answer, ready to display. `set_values`: what the study was read with.

    The memo goes to `folder`; a study file goes beside the study.
    """
    from IPython.display import Javascript, display

    box = Explorer(study, Path(folder), set_values).box
    display(Javascript((resources.files("kit.report") / "templates" / "explore.js").read_text("utf-8")))
    return box


class Explorer:
    """Controls, answer and buttons of one study. `box` holds them all."""

    def __init__(self, study: Study, folder: Path, set_values: Sequence[str] = ()) -> None:
        self.study, self.folder, self.set_values = study, folder, list(set_values)
        self.choices, self.session = Choices.of(study), Session(study)
        self._quiet = False
        self._task: asyncio.Task[None] | None = None
        slugs = {_name(study, slug): slug for slug in study.model.options}
        start = self.session.whole.verdict.winner or next(iter(study.model.options))
        self.control: dict[str, Any] = {
            "option": _dropdown("option", slugs, start),
            **{name: _slider(name) for name in _SLIDERS},
            "outages": _dropdown("outages", self.choices.outages, ""),
            "rate_plan": _dropdown("rate_plan", self.choices.rate_plans, ""),
        }
        self._line = {
            name: widgets.VBox([c, widgets.HTML(help_html(name))]) for name, c in self.control.items()
        }
        self.held = widgets.HTML(f'<span class="rt-help">{HELD}</span>')
        self.answer, self.care, self.message = widgets.HTML(), widgets.HTML(), widgets.HTML()
        self.whole, self.link = widgets.Output(), widgets.Output()
        self.save = _button("Write a study file", "Writes what was moved to a new file beside the study.")
        self.memo = _button("Make the memo", "Runs the decision memo for these settings.")
        self._set_up(keep=False)
        for name, control in self.control.items():
            control.observe(self._chosen if name == "option" else self._moved, names="value")
        self.save.on_click(self._save)
        self.memo.on_click(self._make_memo)
        self.box = self._layout()
        self._at_once()
        self._show_whole()

    def _layout(self) -> Any:
        left = widgets.VBox([*self._line.values(), self.held], layout={"width": "31rem", "max_width": "100%"})
        buttons = widgets.HBox([self.save, self.memo], layout={"flex_flow": "row wrap"})
        left.add_class("rt-controls")
        right = widgets.VBox(
            [self.answer, self.care, buttons, self.message, self.link],
            layout={"flex": "1 1 24rem", "min_width": "20rem"},
        )
        top = widgets.Box(
            [left, right], layout={"display": "flex", "flex_flow": "row wrap", "grid_gap": "0 2.5rem"}
        )
        return widgets.VBox([top, self.whole])

    def _set_up(self, keep: bool = True) -> None:
        """The controls of the chosen option; what it does not have is hidden."""
        own = moves_of(self.choices, self.control["option"].value)
        price = self.choices.price(own.option)
        battery = self.study.model.options[own.option].battery
        floor = battery.outage_floor_frac if battery else 0.0
        top_kw = max(12.0, 2.0 * (own.solar_kw or 0.0))
        top_price = max(8.0, 2.0 * (own.fuel_price or 0.0)) if own.fuel_price != 0 else 8.0
        self._quiet = True
        if not keep:
            own_h = own.keep_on_h
            _range(self.control["keep_on_h"], own_h, min(1.0, own_h), max(WEEK_H, own_h), _step(own_h, 1.0))
        _range(self.control["unit_count"], own.unit_count, 1, max(MOST_UNITS, own.unit_count or 0), 1)
        packs = max(MOST_PACKS, own.packs_per_unit or 0)
        _range(self.control["packs_per_unit"], own.packs_per_unit, 0, packs, 1)
        _range(self.control["solar_kw"], own.solar_kw, 0.5, top_kw, _step(own.solar_kw, 0.5))
        _range(self.control["reserve_frac"], own.reserve_frac, floor, 1.0, _step(own.reserve_frac, 0.05))
        _range(self.control["fuel_price"], own.fuel_price, 0.0, top_price, 0.05)
        for name in ("keep_on_h", "solar_kw"):
            self.control[name].readout_format = ".0f" if self.control[name].step >= 1.0 else ".1f"
        self.control["reserve_frac"].readout_format = ".0%"
        self.control["fuel_price"].readout_format = ".2f"
        for name in _SLIDERS:
            there = getattr(own, name) is not None
            self._line[name].layout.display = None if there else "none"
        if price is not None:
            words = f"{price.fuel.replace('_', ' ').capitalize()}, per {price.unit}"
            self.control["fuel_price"].description = words
        self.held.layout.display = None if battery is not None and own.reserve_frac is None else "none"
        self.care.value = cautions_html(self.study, own.option)
        self._quiet = False

    def moves(self) -> Moves:
        """Where the controls stand."""
        own = moves_of(self.choices, self.control["option"].value)
        price = self.choices.price(own.option)
        moved = {n: self.control[n].value for n in _SLIDERS if getattr(own, n) is not None}
        for name in ("unit_count", "packs_per_unit"):
            if name in moved:
                moved[name] = round(moved[name])
        if price is not None and abs(moved["fuel_price"] - price.value) < 1e-9:
            moved["fuel_price"] = price.value
        return Moves(option=own.option, **moved, **{name: self.control[name].value for name in _FILES})

    def _settings(self) -> list[str]:
        return settings(changes(self.choices, self.moves()))

    def _chosen(self, _: Any) -> None:
        self._set_up()
        self._moved(None)

    def _moved(self, _: Any) -> None:
        if self._quiet:
            return
        self._told(self._at_once)
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:  # no kernel: nothing to wait for
            self._told(self._settle_now)
            return
        if self._task is not None:
            self._task.cancel()
        self._task = loop.create_task(self._settle_at_rest())

    def _told(self, work: Callable[[], None]) -> None:
        """Do it; what cannot be done is said, and the figures stay as they were."""
        try:
            work()
            self.message.value = ""
        except _TOLD as error:
            problems = getattr(error, "problems", (error,))
            self.message.value = f'<p role="alert">{escape("; ".join(str(p) for p in problems))}</p>'

    def _at_once(self) -> None:
        slug, moved = self.control["option"].value, self._settings()
        found = self.session.at_once(slug, moved)
        nothing = self.session.at_once(DO_NOTHING, moved)
        self.answer.value = answer_html(
            self.session.changed(moved),
            self._as_moved(),
            found.columns,
            nothing.columns,
            found.provisional or nothing.provisional,
        )

    def _settle_now(self) -> None:
        for _ in self.session.settle(self._settings()):
            pass
        self._at_once()
        self._show_whole()

    async def _settle_at_rest(self) -> None:
        await asyncio.sleep(REST_S)
        try:
            for _ in self.session.settle(self._settings()):
                await asyncio.sleep(0.005)  # a move that came in meanwhile breaks this off here
        except _TOLD as error:
            self.message.value = f'<p role="alert">{escape(error)}</p>'
            return
        self._at_once()
        self._show_whole()

    def _show_whole(self) -> None:
        whole, slug = self.session.whole, self.control["option"].value
        bundles = [all_options(whole, self._as_moved())._repr_mimebundle_()]
        for chart in (hours_kept_on(whole), *hard_outage(whole, slug)):
            bundles += titled(chart_bundle(chart))
        self.whole.outputs = tuple(_output(bundle) for bundle in bundles)

    def _as_moved(self) -> str:
        """The chosen option's name, with what was moved on it."""
        moves = self.moves()
        told = moved_words(moves_of(self.choices, moves.option), moves)
        return f"{_name(self.study, moves.option)}{f' ({told})' if told else ''}"

    def _others(self) -> dict[str, Any]:
        pairs = (text.partition("=") for text in self.set_values)
        return {path.strip(): yaml.safe_load(value) for path, _, value in pairs}

    def _save(self, _: Any) -> None:
        def work() -> None:
            file = write_study(self.study, self._others() | changes(self.choices, self.moves()))
            words = f"Written: {file}. <code>ridethrough memo {escape(file.name)}</code> makes its memo."
            self.link.outputs = (_output({"text/html": f"<p>{words}</p>", "text/plain": str(file)}),)

        self._told(work)

    def _make_memo(self, _: Any) -> None:
        self.memo.disabled = True
        self.message.value = '<p role="status">The memo is being made; this takes a few seconds.</p>'
        told = [*self.set_values, *self._settings()]

        def work() -> Path:
            return write_memo(os.path.relpath(self.study.path), self.folder, told).html

        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            self._show_memo(work)
            return
        made = loop.run_in_executor(None, work)
        made.add_done_callback(lambda done: self._show_memo(done.result))

    def _show_memo(self, result: Callable[[], Path]) -> None:
        def work() -> None:
            file = result()
            link = escape(Path(os.path.relpath(file)).as_posix())
            where = escape(file.resolve())
            text = f'<p><a href="{link}" target="_blank">Open the memo</a>; in a browser: {where}</p>'
            self.link.outputs = (_output({"text/html": text, "text/plain": str(file)}),)

        self._told(work)
        self.memo.disabled = False


def _output(data: dict[str, Any]) -> dict[str, Any]:
    return {"output_type": "display_data", "data": data, "metadata": {}}


def _name(study: Study, slug: str) -> str:
    return option_names(study.model.options)[slug]


def _dropdown(name: str, choices: dict[str, str], value: str) -> Any:
    pairs = [(words, choice) for words, choice in choices.items()]
    made = widgets.Dropdown(
        options=pairs, value=value, description=label(name), tooltip=HELP[name], **_wide()
    )
    made.add_class("rt-list")
    return made


def _slider(name: str) -> Any:
    kind = widgets.IntSlider if name in ("unit_count", "packs_per_unit") else widgets.FloatSlider
    return kind(
        description=label(name),
        tooltip=HELP[name],
        readout_format="d" if kind is widgets.IntSlider else "g",
        **_wide(),
    )


def _wide() -> dict[str, Any]:
    return {"style": {"description_width": "9.5rem"}, "layout": {"width": "98%"}}


def _button(words: str, tooltip: str) -> Any:
    return widgets.Button(description=words, tooltip=tooltip, layout={"width": "auto"})


def _range(control: Any, value: float | None, low: float, high: float, step: float) -> None:
    """Set a slider's ends before its value, in an order that never crosses."""
    if value is None:
        return
    control.min, control.max = min(low, control.min), max(high, control.max)
    control.step = step
    control.value = value
    control.min, control.max = min(low, value), max(high, value)


def _step(value: float | None, usual: float) -> float:
    """The usual step, or one fine enough that the study's own value lies on it."""
    if value is None or abs(value / usual - round(value / usual)) < 1e-9:
        return usual
    return 0.01 if abs(value * 100 - round(value * 100)) < 1e-9 else 0.0001
