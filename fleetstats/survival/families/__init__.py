"""Other life distributions, and whether a fit follows its lives."""
