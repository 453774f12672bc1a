"""What comes: each engine, the fleet, and the look back."""

from fleetstats.chapters.ahead.outlook_values import Outlook

__all__ = ["Outlook"]
