"""The least number at risk since a failure, found by ranks, is the one found age by age."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from fleetstats.bands.product_bound import least_since

AGES = st.lists(st.tuples(st.integers(0, 9), st.sampled_from([0, 0, 0, 1, 2])), max_size=30)


@given(AGES)
def test_as_age_by_age(ages: list[tuple[int, int]]) -> None:
    at_risk, failed = (np.array([x[k] / 4 for x in ages], dtype=np.float64) for k in (0, 1))
    want, least = [], np.inf
    for n, d in zip(at_risk, failed, strict=True):
        least = min(least, n)
        want.append(least)
        if d > 0.0:
            least = n - d
    assert least_since(at_risk, at_risk - failed, failed > 0.0).tolist() == want
