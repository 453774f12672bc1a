"""Which clock ages engines: hours, years, or both."""
