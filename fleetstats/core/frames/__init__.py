"""Results as tables of rows and named columns."""
