"""Age and calendar together: hours at risk and failures by age band and by year."""

from fleetstats.chapters.calendar_plane.compute import dated_of

__all__ = ["dated_of"]
