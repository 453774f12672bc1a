"""The study file: its schema, settings, template and what was left at default."""
