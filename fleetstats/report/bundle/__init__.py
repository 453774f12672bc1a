"""One file that a stranger can check: inputs, settings, results, report, digests."""
