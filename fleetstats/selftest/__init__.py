"""Published cases and values computed elsewhere, worked out on the machine at hand."""

from fleetstats.selftest.agreement import Agreement, Selftest, run_selftest

__all__ = ["Agreement", "Selftest", "run_selftest"]
