"""A small study for each finding on hours and dates told in words."""

from __future__ import annotations

WORDS = {
    "hours-in-words": ("engine,exit_hours,ending\nA,approx 800,running\nB,~950,failed\n", ""),
    "dates-in-words": ("engine,exit_hours,ending,in_service\nA,800,running,May 2019\n", ""),
}
