"""Published damage values: as printed, between the printed hours, and refused beyond a day."""

from __future__ import annotations

import pytest

from kit.account.lost_load import EVENT_USD_2013, HOURS, MEAN_LOAD_KW, damage_nodes, damage_usd

# LBNL-6941E (2015), Table ES-1, residential, 2013 USD: hours, per event, per average kW, per unserved
# kWh. Last column seen in two copies of the table; the other two from memory.
TABLE = [
    (0.0, 3.9, 2.6, 30.9),
    (0.5, 4.5, 2.9, 5.9),
    (1.0, 5.1, 3.3, 3.3),
    (4.0, 9.5, 6.2, 1.6),
    (8.0, 17.2, 11.3, 1.4),
    (16.0, 32.4, 21.2, 1.3),
]


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"{row[0]:g} h")
def test_one_mean_load_ties_the_columns_together(row: tuple[float, float, float, float]) -> None:
    """Per event over 1.53 kW is the column per kW, and over the hours the column per kWh, as printed."""
    hours, per_event, per_kw, per_kwh = row
    assert float(damage_usd(hours, 1.0)) == pytest.approx(per_event)
    assert float(damage_usd(hours, 1.0)) / MEAN_LOAD_KW == pytest.approx(per_kw, abs=0.06)
    if hours > 0.0:
        assert float(damage_usd(hours, 1.0)) / MEAN_LOAD_KW / hours == pytest.approx(per_kwh, abs=0.06)


def test_between_and_behind_the_printed_hours() -> None:
    """6 h: (9.5 + 17.2) / 2 = 13.35; 20 h on the last slope of 1.9 an hour: 32.4 + 4 x 1.9 = 40.0."""
    assert damage_usd([6.0, 20.0, 24.0], 1.0).tolist() == pytest.approx([13.35, 40.0, 47.6])
    assert damage_usd([6.0], 1.4).tolist() == pytest.approx([18.69])
    hours, usd = damage_nodes(1.0)
    assert hours.tolist() == [*HOURS, 24.0]
    assert usd[:6].tolist() == list(EVENT_USD_2013)


@pytest.mark.parametrize(
    ("hours", "deflator", "text"),
    [(24.1, 1.0, "refused beyond 24 h"), (-1.0, 1.0, "refused"), (1.0, 0.0, "deflator must be above 0")],
)
def test_refused(hours: float, deflator: float, text: str) -> None:
    with pytest.raises(ValueError, match=text):
        damage_usd(hours, deflator)
