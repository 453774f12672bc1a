"""What comes: each engine, the fleet, and the look back."""

from fleetstats.chapters.ahead.chapter import failures_again, mixture_of
from fleetstats.chapters.ahead.failures_ahead import draw_for_forecast
from fleetstats.chapters.ahead.forecast import forecast_fleet
from fleetstats.chapters.ahead.forecast_change import at_rate_now
from fleetstats.chapters.ahead.forecast_drawn import forecast_of_drawn
from fleetstats.chapters.ahead.forecast_values import CountForecast, Forecast
from fleetstats.chapters.ahead.outlook import look_at_oldest
from fleetstats.chapters.ahead.outlook_values import Outlook

__all__ = [
    "CountForecast",
    "Forecast",
    "Outlook",
    "at_rate_now",
    "draw_for_forecast",
    "failures_again",
    "forecast_fleet",
    "forecast_of_drawn",
    "look_at_oldest",
    "mixture_of",
]
