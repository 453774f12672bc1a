"""How marks look: colours, line styles and markers of each role, for light, dark and print.

Colour never carries a meaning alone: every role differs from its neighbours also in marker, line
style or filling. The six group colours were chosen so that any two stay apart under the common
kinds of colour blindness (simulated after Machado, Oliveira & Fernandes 2009); a test holds that.
"""

from __future__ import annotations

from fleetstats.core.value import Value, value

INK = "#1d282e"
MUTED = "#5a676e"
RULE = "#d3d9da"
PAPER = "#ffffff"
TEAL = "#1f6a78"
OCHRE = "#c48508"
PLUM = "#5c0f74"
SKY = "#3f9ad0"
CLAY = "#a23a14"
COAL = "#40473c"
MIST = "#9aa7ac"

DARK = {
    INK: "#e4eaec",
    MUTED: "#a3b1b7",
    RULE: "#39454b",
    PAPER: "#171d21",
    TEAL: "#2fa89e",
    OCHRE: "#eed04a",
    PLUM: "#b56bd0",
    SKY: "#93d7ff",
    CLAY: "#dd8658",
    COAL: "#dcefe0",
    MIST: "#70808a",
}
"""Light colour = its stand-in on a dark page."""

NAMES = {
    INK: "ink",
    MUTED: "muted",
    RULE: "rule",
    PAPER: "paper",
    TEAL: "teal",
    OCHRE: "ochre",
    PLUM: "plum",
    SKY: "sky",
    CLAY: "clay",
    COAL: "coal",
    MIST: "mist",
}
"""Light colour = name of its variable in the page's style sheet."""

GROUPS = (TEAL, OCHRE, PLUM, SKY, CLAY, COAL)
FONT_FILE, BOLD_FILE = "DejaVuSans.ttf", "DejaVuSans-Bold.ttf"
SIZE_PT = 8.6
SMALL_PT = 7.8


@value
class Look(Value):
    """Colour, line (width in points, dashes and gaps in widths) and marker of one role."""

    color: str
    dashes: tuple[float, ...] = ()
    width: float = 1.6
    marker: str = "o"
    filled: bool = True
    alpha: float = 0.2
    hatch: str = ""


LOOKS = {
    "estimate": Look(color=TEAL, width=2.0, marker="o"),
    "band": Look(color=TEAL, dashes=(1.5, 1.5), width=1.1, marker="_", alpha=0.17),
    "failure": Look(color=CLAY, marker="D", width=1.8, alpha=0.85),
    "censored": Look(color=MUTED, marker="|", width=1.1, dashes=(1.0, 1.6), alpha=0.35),
    "finding": Look(color=OCHRE, marker="s", filled=False, width=1.5, dashes=(6, 2), alpha=0.6),
    "competing": Look(color=SKY, marker="X", width=1.5, dashes=(4, 1.5, 1, 1.5), alpha=0.6),
    "running": Look(color=MIST, marker=">", filled=False, width=1.1, alpha=0.55),
    "horizon": Look(color=INK, dashes=(5, 2.5), width=1.2, marker="|", alpha=0.07),
    "oldest": Look(color=MUTED, dashes=(1.2, 2.2), width=1.2, marker="|"),
    "claim": Look(color=OCHRE, dashes=(8, 2, 1.5, 2), width=1.6, marker="^"),
    "target": Look(color=PLUM, dashes=(3, 2), width=1.2, marker="_", alpha=0.12),
    "advice": Look(color=SKY, width=1.6, marker="d", alpha=0.22),
    "optimum": Look(color=PLUM, marker="*", width=1.5, dashes=(2, 2)),
    "reference": Look(color=MUTED, width=1.0, marker="o", filled=False, dashes=(2, 2), alpha=0.15),
    "group-1": Look(color=TEAL, marker="o", width=1.8),
    "group-2": Look(color=OCHRE, marker="s", dashes=(6, 2), width=1.8),
    "group-3": Look(color=PLUM, marker="^", dashes=(7, 2, 1.5, 2), width=1.8),
    "group-4": Look(color=SKY, marker="D", dashes=(2, 1.5), width=1.8, filled=False),
    "group-5": Look(color=CLAY, marker="v", dashes=(10, 3), width=1.8, filled=False),
    "group-6": Look(color=COAL, marker="P", dashes=(4, 1.5, 1, 1.5, 1, 1.5), width=1.6),
}
"""Look of every role that a figure may use."""
