"""The tables of charts as plain values: the very ones that altair makes of them."""

from __future__ import annotations

import json

import altair as alt
import numpy as np
import pandas as pd
import pytest

from kit.report.chart_data import plain_data, plain_values
from tests.unit.report.fake_comparison import fake_comparison
from tests.unit.report.test_charts import all_charts


def test_every_chart_is_the_same() -> None:
    for chart in all_charts(fake_comparison()):
        theirs = chart.to_dict(validate=False)
        with plain_data():
            ours = chart.to_dict(validate=False)
        assert json.dumps(ours) == json.dumps(theirs)
    assert alt.data_transformers.active == "default"


@pytest.mark.parametrize(
    "table",
    [
        pd.DataFrame(
            {"x": [1.5, np.nan, np.inf, -np.inf], "n": [1, 2, 3, 4], "yes": [True, False, True, True]}
        ),
        pd.DataFrame({"word": ["a", None, "<b>"], "y": [0.1, 0.2, 0.3]}, index=[7, 7, 9]),
        pd.DataFrame({"day": pd.date_range("2025-01-01", periods=2), "y": [1.0, 2.0]}),
        pd.DataFrame({"any": [1, "a", None]}),
        pd.DataFrame({"x": []}),
        pd.DataFrame({"many": pd.Categorical(["a", "b"]), "few": pd.array([1, None], dtype="Int64")}),
        pd.DataFrame({"small": np.array([1.1, 2.2], dtype=np.float32)}),
    ],
)
def test_every_kind_of_column(table: pd.DataFrame) -> None:
    theirs = alt.default_data_transformer(table)
    assert json.dumps(plain_values(table)) == json.dumps(theirs)


def test_a_table_whose_columns_have_no_names_is_refused_as_before() -> None:
    with pytest.raises(ValueError, match="Column names must be strings"):
        plain_values(pd.DataFrame({1: [1.0], "a": [2.0]}))
