"""Generator reliability: Marqusee and Jenket, Applied Energy 268 (2020) 114918."""

from tests.published.equipment_case import EquipmentCase as Case

PAPER = "Marqusee and Jenket 2020; availability and mean times to failure from memory (recomputed)"
HEADLINE = "Marqusee and Jenket 2020, highlights and abstract"

# P(serve through t)
CURVE = [
    Case("well, 24 h", PAPER, {"care": "well", "run_h": 24.0}, 0.984, 0.0005, seen=False),
    Case("well, 48 h", PAPER, {"care": "well", "run_h": 48.0}, 0.970, 0.0005, seen=False),
    Case("well, 96 h", PAPER, {"care": "well", "run_h": 96.0}, 0.942, 0.0005, seen=False),
    Case("well, 168 h", PAPER, {"care": "well", "run_h": 168.0}, 0.903, 0.0005, seen=False),
    Case("well, 336 h (check A)", PAPER, {"care": "well", "run_h": 336.0}, 0.816, 0.0005, seen=False),
    Case("poor, 24 h", PAPER, {"care": "poor", "run_h": 24.0}, 0.664, 0.0005, seen=False),
    Case("poor, 48 h (check B)", PAPER, {"care": "poor", "run_h": 48.0}, 0.448, 0.0005, seen=False),
    Case("poor, 96 h", PAPER, {"care": "poor", "run_h": 96.0}, 0.204, 0.0005, seen=False),
]
# failing share against the rounded words of the abstract
ABSTRACT = [
    Case("well, two weeks: 20 % fail", HEADLINE, {"care": "well", "run_h": 336.0}, 0.20, 0.02, why=(
        "the abstract rounds 18.4 % to 20 %"
    )),
    Case("poor, 48 h: 50 % fail", HEADLINE, {"care": "poor", "run_h": 48.0}, 0.50, 0.06, why=(
        "the abstract says 50 %; its rounded parameters give 55 %"
    )),
]  # fmt: skip
FAILS_TO_START = [
    Case("well", HEADLINE, {"care": "well"}, 0.0013, 1e-12),
    Case("poor", HEADLINE, {"care": "poor"}, 0.0165, 1e-12),
]
# fourteen starts at 1.65 % each
MANY_STARTS = Case("14 starts of a hybrid", "arithmetic, 0.9835 to the 14th", {"starts": 14}, 0.79, 0.005)
