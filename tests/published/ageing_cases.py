"""Ageing of LFP cells and cycle counting, typed from the papers' equations and the standard's figure.

Losses were recomputed from the printed coefficients outside the kit; the equations were seen in two
independent listings of each paper. Values in per cent.
"""

from __future__ import annotations

NAUMANN_2018 = "Naumann et al. 2018, J. Energy Storage 17:153, calendar"
# temperature C, charge 0..1: loss after 1 year, after 10 years
NAUMANN_CALENDAR = {
    (25.0, 0.5): (4.252, 13.44),
    (25.0, 1.0): (6.773, 21.42),
    (35.0, 0.5): (5.320, 16.82),
    (35.0, 1.0): (8.475, 26.80),
}
NAUMANN_2020 = "Naumann et al. 2020, J. Power Sources 451:227666, cycles"
# C-rate 1/h, depth 0..1, full equivalent cycles: loss
NAUMANN_CYCLE = {
    (0.5, 0.8, 3000.0): 7.921,
    (0.5, 1.0, 3000.0): 9.508,
    (0.5, 0.5, 3000.0): 7.665,
    (0.25, 0.9, 3650.0): 8.188,
    (1.0, 1.0, 1000.0): 6.834,
}
SCHIMPE_2018 = "Schimpe et al. 2018, J. Electrochem. Soc. 165:A181, Table IV, calendar at 25 C, 1 year"
SCHIMPE_CALENDAR = {0.0: 0.491, 0.5: 3.928, 1.0: 6.460}
SCHIMPE_ANODE_V = {0.5: 0.12330, 1.0: 0.08638}
PAPERS_AGREE_WITHIN = 0.10

ASTM = "ASTM E1049-85 (2011), rainflow example, Fig. 6"
ASTM_SERIES = (-2.0, 1.0, -3.0, 5.0, -1.0, 3.0, -4.0, 4.0, -2.0)
ASTM_RANGES = {3.0: 0.5, 4.0: 1.5, 6.0: 0.5, 8.0: 1.0, 9.0: 0.5}
