"""The verb that opens the page."""
