"""Doors to files from strangers: what lies at a path, zips, JSON and TOML, each within limits."""
