"""Reliability indices in print, and rates that follow from them.

US EIA, Electric Power Annual, Tables 11.1 and 11.3 (transcribed, tests/data/outages): SAIDI in
minutes, SAIFI in interruptions, CAIDI in minutes, IEEE reporters.
"""

from __future__ import annotations

from pathlib import Path

import pandas as pd

FOLDER = Path(__file__).parents[1] / "data" / "outages"
US = pd.read_csv(FOLDER / "eia_table_11_1_us_saidi_saifi_caidi_2014_2023.csv")
STATES = pd.read_csv(FOLDER / "eia_table_11_3_state_reliability_2022_2023_partial.csv")
CAIDI_WITHIN = 0.006  # of the figure: SAIFI is printed to three places

# (name, all SAIFI, SAIDI, CAIDI, without major event days SAIFI, SAIDI, CAIDI)
Row = tuple[str, float, float, float, float, float, float]
ROWS: list[Row] = [
    (
        f"US {row.year}",
        row.ieee_all_saifi,
        row.ieee_all_saidi_min,
        row.ieee_all_caidi_min,
        row.ieee_noMED_saifi,
        row.ieee_noMED_saidi_min,
        row.ieee_noMED_caidi_min,
    )
    for row in US.itertuples()
] + [
    (
        f"{row.area} {year}",
        *(
            getattr(row, f"{group}_{index}_{year}")
            for group in ("all", "noMED")
            for index in ("saifi", "saidi", "caidi")
        ),
    )
    for row in STATES.itertuples()
    for year in (2022, 2023)
]

# US 2023 by the difference of the indices: 1.348 - 1.022, (366.6 - 123.9) / 0.326 / 60 and 1 / 0.326
MAJOR_2023_PER_YEAR, MAJOR_2023_H, MAJOR_2023_RETURN_YEARS = 0.326, 12.4, 3.1

# IEEE Std 1366 Annex, index example (from memory; the third figure follows from the first two)
IEEE_SAIFI, IEEE_SAIDI_MIN, IEEE_CAIDI_MIN, IEEE_ASAI_FRAC = 0.878, 86.11, 98.1, 0.999836

# No event in three years, Gamma(0.5, 3): mean and 90 % range (chi-square table, one degree of
# freedom: 0.00393 and 3.841; halved and over 3)
NO_EVENT_IN_3_YEARS = (0.17, 0.001, 0.64)
CHI_SQUARE_1_LOW, CHI_SQUARE_1_HIGH = 0.00393, 3.841

# IEEE Std 1366-2012, clause 3.5.1: alpha and beta as printed and the threshold, min/day (from memory).
# The printed inputs are rounded: exp(-3.35 + 2.5 x 1.90) = 4.06; 4.15 needs beta 1.909, hence 3 %.
IEEE_ALPHA, IEEE_BETA, IEEE_THRESHOLD_MIN, IEEE_THRESHOLD_WITHIN = -3.35, 1.90, 4.15, 0.03
# The annex draws daily SAIDI from a lognormal of those parameters (B.1.1, read in a stored copy).
