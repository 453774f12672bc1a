"""The first screen, and a page for each reader."""
