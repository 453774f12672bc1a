"""Record shape "histories": one row an engine, its history in columns, read as events of a log."""
