"""From records of engine hours and removals to advisable overhaul hours, with their evidence."""

__version__ = "0.1.0"
