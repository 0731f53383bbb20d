"""Draws, swings and shares against published functions and a reference library.

Ishigami and Homma, An importance quantification technique in uncertainty analysis for computer models,
ISUMA 1990, f = sin x1 + 7 sin^2 x2 + 0.1 x3^4 sin x1 on [-pi, pi]^3; its indices as printed in Saltelli et
al., Global Sensitivity Analysis: The Primer (2008): S1 0.3139, S2 0.4424, S3 0; ST1 0.5576, ST2 0.4424,
ST3 0.2437 (from memory, and the variances' closed forms give the same).
PERT mean and shape: Malcolm et al., Operations Research 7 (1959), (low + 4 likely + high) / 6.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import beta, triang

from kit.vary.draw_shapes import values_at
from kit.vary.draws import points
from kit.vary.shares import first_and_total

RANKS = np.linspace(0.001, 0.999, 41)


def ishigami(ranks):
    x = -np.pi + 2.0 * np.pi * ranks
    return np.sin(x[:, 0]) + 7.0 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0])


def test_sobol_indices_of_the_ishigami_function():
    first, total = first_and_total(ishigami, 3, 8192, 1)
    assert first == pytest.approx([0.3139, 0.4424, 0.0], abs=0.01)
    assert total == pytest.approx([0.5576, 0.4424, 0.2437], abs=0.01)


@pytest.mark.parametrize(("low", "likely", "high"), [(0.0, 3.0, 7.0), (5.0, 5.0, 9.0), (-2.0, 4.0, 4.0)])
def test_shapes_against_scipys_distributions(low, likely, high):
    width = high - low
    a, b = 1.0 + 4.0 * (likely - low) / width, 1.0 + 4.0 * (high - likely) / width
    pert = beta(a, b, loc=low, scale=width)
    assert values_at(RANKS, low, likely, high) == pytest.approx(pert.ppf(RANKS), rel=1e-9, abs=1e-9)
    assert pert.mean() == pytest.approx((low + 4.0 * likely + high) / 6.0)
    three = triang((likely - low) / width, loc=low, scale=width)
    got = values_at(RANKS, low, likely, high, "triangular")
    assert got == pytest.approx(three.ppf(RANKS), rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("kind", ["sobol", "latin_hypercube"])
def test_points_are_even_seeded_and_inside(kind):
    made = points(256, 5, 7, kind)
    assert made.shape == (256, 5)
    assert (made > 0.0).all()
    assert (made < 1.0).all()
    assert np.array_equal(made, points(256, 5, 7, kind))
    assert not np.array_equal(made, points(256, 5, 8, kind))
    for column in made.T:  # one point in each of 256 strata: true of both designs
        assert sorted((column * 256).astype(int)) == list(range(256))


@pytest.mark.parametrize(
    ("ends", "shape"), [((2.0, 1.0, 3.0), "pert"), ((1.0, 1.0, 1.0), "pert"), ((0.0, 1.0, 2.0), "normal")]
)
def test_shapes_refuse(ends, shape):
    with pytest.raises(ValueError, match=r"does not hold|draw_shape is"):
        values_at(0.5, *ends, shape)
