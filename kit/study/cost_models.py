"""What a piece of equipment costs, in money and in emissions before it runs."""

from __future__ import annotations

from kit.study.part import Frac, NonNegative, Part


class Cost(Part):
    """What one piece of equipment costs. All in the study's currency."""

    price_usd: NonNegative
    install_usd: NonNegative = 0.0
    permit_usd: NonNegative = 0.0
    incentive_usd: NonNegative = 0.0
    upkeep_usd_per_year: NonNegative = 0.0
    replacement_usd: NonNegative | None = None  # default: price_usd again
    residual_frac: Frac = 0.0  # of price_usd, at the horizon; else by straight line of the last piece
    disposal_usd: NonNegative = 0.0
    embodied_co2e_kg: NonNegative | None = None  # of making it; all equipment of an option, or none
