"""A household's page in a browser without a network: figures, sliders, keys, width, accessibility."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from kit.compare import Comparison, compare
from kit.report.formats import CHANCE, MINUS, figure
from kit.report.page import page_html, write_page
from kit.report.theme import looks
from kit.study import read_study
from tests.browser.chromium import opened
from tests.contract.sources import ROOT

pytestmark = pytest.mark.browser
FARM = ROOT / "params" / "studies" / "farm_house.yaml"
MOST_BYTES = 2_000_000
SERIOUS = {"serious", "critical"}


@pytest.fixture(scope="module")
def page_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_page(FARM, tmp_path_factory.mktemp("page"), workers=1)


@pytest.fixture(scope="module")
def whole() -> Comparison:
    return compare(read_study(FARM))


def table_of(page: Any) -> list[list[str]]:
    rows: list[list[str]] = page.eval_on_selector_all(
        "#rows tr", "rows => rows.map(r => Array.from(r.children).map(c => c.textContent))"
    )
    return rows


def expected_table(whole: Comparison) -> list[list[str]]:
    base = whole.outcomes["do_nothing"].columns["equivalent_annual_cost_usd"]
    rows = []
    for look in looks(whole):
        c = whole.outcomes[look.slug].columns
        assert isinstance(base, float)
        assert isinstance(c["equivalent_annual_cost_usd"], float)
        rows.append(
            [
                look.label,
                "yes" if c["meets_target"] else "no",
                figure(c["ride_through_frac_asked"], CHANCE),
                figure(c["up_front_usd"], "usd"),
                figure(c["equivalent_annual_cost_usd"] - base, "usd"),
                figure(c["must_run_unserved_h_per_year"], "h"),
            ]
        )
    return rows


def slide(page: Any, name: str, value: float) -> None:
    """Move a slider as a hand would: its value, then the event."""
    page.eval_on_selector(
        f"#{name}", "(e, v) => { e.value = v; e.dispatchEvent(new Event('input', {bubbles: true})); }", value
    )


def test_one_small_file(page_file: Path) -> None:
    text = page_file.read_text(encoding="utf-8")
    assert page_file.stat().st_size < MOST_BYTES
    assert re.findall(r"""(?:src|href)\s*=|url\(|@import|fetch\(|XMLHttp""", text) == []


def test_the_page_says_what_the_memo_says(chromium: Any, page_file: Path, whole: Comparison) -> None:
    with opened(chromium, page_file, 1280) as seen:
        assert seen.errors == seen.requests == []
        assert table_of(seen.page) == expected_table(whole)
        winner = whole.verdict.winner
        assert winner is not None
        said = seen.page.inner_text("#cheapest")
        assert f": {whole.outcomes[winner].name}," in said
        assert seen.page.input_value("#option") == winner
        shown = seen.page.inner_text("main")
        for sentence in whole.verdict.sentences:
            assert re.sub(r"\s", " ", sentence).replace("CO2e", "CO₂e") in re.sub(r"\s", " ", shown)


def test_moved_sliders_say_what_the_engine_says(chromium: Any, page_file: Path) -> None:
    """Units and outages on the grid, prices off it: each against a whole comparison of that study."""
    settings = [
        "options.battery.battery.unit_count=3",
        "asked.keep_on_h=12",
        "asked.chance_frac=0.8",
        *(f"outages.classes.{c}.events_per_year={2 * n.events_per_year!r}" for c, n in classes().items()),
    ]
    moved = compare(read_study(FARM).changed(settings))
    with opened(chromium, page_file, 1280) as seen:
        seen.page.select_option("#option", "battery")
        slide(seen.page, "units", 2)
        slide(seen.page, "hours", hours_on(seen.page).index(12))
        slide(seen.page, "sure", 80)
        slide(seen.page, "often", 2)
        said = table_of(seen.page)
        assert [row[0] for row in said if "(" in row[0]] == ["D\u00a0 One battery (3 units)"]
        assert [row[1:] for row in said] == [row[1:] for row in expected_table(moved)]
        seen.page.click("#reset")
        assert table_of(seen.page) == expected_table(compare(read_study(FARM)))


def test_prices_are_exact(chromium: Any, page_file: Path) -> None:
    study = read_study(FARM)
    litre = study.model.fuels["gasoline"].price_usd_per_l
    assert litre is not None
    dear = compare(study.changed([f"fuels.gasoline.price_usd_per_l={1.5 * litre!r}"]))
    with opened(chromium, page_file, 1280) as seen:
        seen.page.select_option("#option", "portable")
        slide(seen.page, "fuel-gasoline", 150)
        assert table_of(seen.page) == expected_table(dear)


def classes() -> dict[str, Any]:
    return dict(read_study(FARM).model.outages.classes)


def hours_on(page: Any) -> list[float]:
    hours: list[float] = page.evaluate("JSON.parse(document.getElementById('data').textContent).hours")
    return hours


def test_by_keyboard_alone(chromium: Any, page_file: Path) -> None:
    with opened(chromium, page_file, 1280) as seen:
        page = seen.page
        reached = []
        for _ in range(12):
            page.keyboard.press("Tab")
            reached.append(page.evaluate("document.activeElement.id"))
        assert reached[:3] == ["option", "hours", "sure"]
        assert "reset" in reached
        page.focus("#hours")
        before, words = page.inner_text("#chance"), page.get_attribute("#hours", "aria-valuetext")
        for _ in range(4):
            page.keyboard.press("ArrowRight")
        assert page.get_attribute("#hours", "aria-valuetext") != words
        assert page.inner_text("#chance") != before
        page.focus("#reset")
        page.keyboard.press("Enter")
        assert page.inner_text("#chance") == before


@pytest.mark.parametrize("width", [1280, 360])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_serious(chromium: Any, page_file: Path, width: int, scheme: str) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="NO AXE: not looked at").Axe()
    with opened(chromium, page_file, width) as seen:
        seen.page.emulate_media(color_scheme=scheme)
        for slug in seen.page.eval_on_selector_all("#option option", "all => all.map(o => o.value)"):
            seen.page.select_option("#option", slug)
            found = [v for v in axe.run(seen.page).response["violations"] if v["impact"] in SERIOUS]
            assert [(v["id"], [n["html"] for n in v["nodes"]]) for v in found] == []
        probe = seen.probe()
    assert probe["page"] <= width, "the page scrolls sideways"
    assert min(probe["texts"])[0] >= 10, min(probe["texts"])


def test_the_answer_stays_in_sight_on_a_phone(chromium: Any, page_file: Path) -> None:
    with opened(chromium, page_file, 360) as seen:
        for name in ("hours", "bought"):
            seen.page.locator(f"#{name}").scroll_into_view_if_needed()
            box = seen.page.locator("#chance").bounding_box()
            assert box is not None
            assert 0 <= box["y"] < 300


def test_figures_are_printed_as_in_the_memo(chromium: Any, page_file: Path) -> None:
    """The script's own printing against the kit's, over many sizes of money, share and time."""
    shares = [0.0, 0.0004, 0.004, 0.05, 0.5, 0.899, 0.9949, 0.99951, 1.0]
    sums = [0.0, 0.4, 9.99, 99.994, 100.0, 1234.5, 1e6]
    text = page_file.read_text(encoding="utf-8")
    inside = text.replace(
        "  start();\n  at(", "  window.says = [share, money, hours, chance];\n  start();\n  at("
    )
    assert inside != text
    copy = page_file.with_name("says.html")
    copy.write_text(inside, encoding="utf-8")
    with opened(chromium, copy, 1280) as seen:
        for place, unit, values in (
            (0, "frac", shares),
            (3, CHANCE, [*shares, 0.5136, 0.89999, 0.29, 0.9999999999999999, 3e-17]),
            (1, "usd", [*sums, *(-v for v in sums)]),
            (2, "h", [0.0, 1e-5, 3e-4, 0.004, 0.0167, 0.0994, 0.12, 0.996, 5.55, 77.7, 99.96, 2345.6]),
        ):
            said = seen.page.evaluate("([k, values]) => values.map(v => window.says[k](v))", [place, values])
            assert said == [figure(v, unit) for v in values], unit
    assert MINUS == "\u2212"


ODD = "</script><script>window.bad = 1</script> \"quoted\" & 'so' <b>"


@pytest.mark.parametrize(
    "name", [ODD, "A name without an end " * 22 + "and so on.", "بيت على الساحل مع مولد"]
)
def test_odd_names(chromium: Any, tmp_path: Path, name: str) -> None:
    """A few options of one study under names that try to break out, fill the page or run the other way."""
    study = read_study(FARM)
    few = {s: o.model_copy(update={"name": name}) for s, o in study.model.options.items() if s == "portable"}
    model = study.model.model_copy(update={"name": name, "options": few})
    file = tmp_path / "page.html"
    file.write_text(page_html(replace(study, model=model), workers=1), encoding="utf-8")
    with opened(chromium, file, 360) as seen:
        assert seen.errors == []
        assert seen.page.evaluate("window.bad") is None
        assert seen.page.inner_text("h1").strip() == name.strip()
        assert seen.page.text_content("#option option").endswith(name)
        assert seen.probe()["page"] <= 360, "the page scrolls sideways"
