"""What comes: each engine, the fleet, and the look back."""

from fleetstats.chapters.ahead.outlook import Outlook

__all__ = ["Outlook"]
