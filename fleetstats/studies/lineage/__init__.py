"""From a printed figure to its rows: the table of all lives, and what each figure rests on."""

from fleetstats.studies.lineage.every_life import EveryLife, list_lives
from fleetstats.studies.lineage.life_line import LifeLine
from fleetstats.studies.lineage.trace import trace_figures
from fleetstats.studies.lineage.values import Figured, Lineage, SettingUsed

__all__ = [
    "EveryLife",
    "Figured",
    "LifeLine",
    "Lineage",
    "SettingUsed",
    "list_lives",
    "trace_figures",
]
