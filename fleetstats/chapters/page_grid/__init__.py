"""Answers at other settings, for the page that answers back."""
