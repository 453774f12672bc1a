"""The panels of log shape on which refits read their sums, and how far they reach."""

from __future__ import annotations

import numpy as np

NODES, PANEL = 24, 0.4
"""Nodes and half-width, in log shape, of each panel of the series. Random weights let a few old
engines rule A, which bends it; panels this narrow leave an error near 1e-11 in shape."""

REACH_SD = 6.0
"""Half-width of the nodes' range in standard errors of log shape."""

LEAST_REACH, MOST_REACH = PANEL, 2.0
"""Limits of that half-width: a factor 1.5 to 7 in shape on either side."""


def reach_of(n_failed: float) -> float:
    """Return the half-width of the nodes' range in log shape."""
    # with heavy censoring the standard error of log shape is near 1 / sqrt(r)
    return float(np.clip(REACH_SD / np.sqrt(max(n_failed, 1.0)), LEAST_REACH, MOST_REACH))
