"""What a report says, before it has a format.

A `Document` is built once; HTML, PDF, JSON and CSV are renderings of it. Figures are described by
their data and their roles, not drawn here, so each face draws them in its own way and each table
of numbers can be exported.
"""

from __future__ import annotations

from dataclasses import field

from fleetstats.core.provenance import Provenance
from fleetstats.core.value import Array, Value, value
from fleetstats.document.brief import Brief
from fleetstats.document.tabulated import Tabulated
from fleetstats.vocabulary.caution import Caution

TONES = ("fact", "answer", "caution", "extrapolation", "missing", "assumption")
"""Tones of a statement: what was seen, what follows, what limits it, what is beyond the ages
observed, what the data cannot answer, what was assumed."""

ROLES = (
    "estimate",
    "band",
    "failure",
    "censored",
    "finding",
    "competing",
    "running",
    "horizon",
    "oldest",
    "claim",
    "target",
    "advice",
    "optimum",
    "reference",
    "group-1",
    "group-2",
    "group-3",
    "group-4",
    "group-5",
    "group-6",
)
"""What a mark stands for; the drawing door alone decides how that looks."""

KINDS = ("line", "step", "ribbon", "points", "bars", "spans", "segments", "vline", "hline", "zone")
"""line/step: x, y. ribbon: x, low, high. points: x, y (low, high optional error bars).
bars: x (left edges), high (heights), x2 (right edges). spans: horizontal bars from x to x2 at
height y. segments: straight from x, low to x2, high. vline: x (1,). hline: y (1,). zone: vertical
zone from x[0] to x2[0]."""


@value
class Column(Value):
    """A column of a table. `kind`: text, hours, percent, number, count, money or date.

    A percent is held as a share in 0 to 1; renderers write it as percent. `edge` is ``"low"`` or
    ``"high"`` where a percent is a bound: renderers round it down or up, as sentences do.
    `beside` are the limits, in the cells' own unit, that decide something: each cell is written
    with as many digits as show on which side of them it lies.
    """

    key: str
    title: str
    kind: str = "text"
    help: str = ""
    edge: str = ""
    beside: tuple[float, ...] = ()


@value
class Table(Value):
    """Rows of plain values (str, float, int, None). Renderers format by the column's kind.

    `key` names the CSV file; `see` says in one sentence what to see; `uncut` has it printed whole
    on paper, however long.
    """

    key: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str | float | int | None, ...], ...]
    see: str = ""
    folded: bool = False
    uncut: bool = False


@value
class Axis(Value):
    """One axis. `scale`: linear, log, probability (log of -log survival) or category.

    On the probability scale values are chances of failure in (0, 1). The unit ``"probability"``
    writes ticks as percent, the unit ``"year"`` as years of the calendar. Category i stands at
    place i; on a y axis the first stands on top.
    """

    label: str
    unit: str = ""
    scale: str = "linear"
    low: float | None = None
    high: float | None = None
    categories: tuple[str, ...] = ()


@value
class Layer(Value):
    """Marks of one kind and one role; arrays as `KINDS` says. Parts of a line, step or ribbon
    beyond `extrapolated_from` are drawn as extrapolation (dashed or hatched).
    """

    kind: str
    role: str
    label: str = ""
    x: Array | None = None
    y: Array | None = None
    x2: Array | None = None
    low: Array | None = None
    high: Array | None = None
    extrapolated_from: float | None = None
    names: tuple[str, ...] = ()


@value
class Panel(Value):
    """One pair of axes with its layers, drawn in order."""

    x: Axis
    y: Axis
    layers: tuple[Layer, ...]
    title: str = ""


@value
class Figure(Value):
    """Panels side by side (`columns` to a row). `see` says what to see; `alt` describes the
    picture for those who cannot see it. `height` is that of one row of panels, in inches.
    """

    key: str
    title: str
    see: str
    alt: str
    panels: tuple[Panel, ...]
    columns: int = 1
    height: float = 3.4


@value
class Statement(Value):
    """A sentence or short paragraph with its tone."""

    text: str
    tone: str = "fact"


@value
class Explain(Value):
    """A term explained once, in plain words; shown in the margin and in the glossary."""

    term: str
    text: str


@value
class Pointer(Value):
    """A pointer to another part: its words, the key of its target, and the anchor on the page."""

    words: str
    key: str
    anchor: str


Block = Statement | Table | Figure | Explain


@value
class Section(Value):
    """A headed part of the report. `key` is its anchor and stable name.

    `annex` is the key of the annex to which it belongs, "" for the body of the report; of one that
    belongs to an annex, the blocks at the places `kept` stand in the body (`document.annexes`).
    """

    key: str
    title: str
    blocks: tuple[Block, ...]
    annex: str = ""
    kept: tuple[int, ...] = ()


@value
class Document(Value):
    """The whole report, format-free.

    `verdict` is a word of `report.words.VERDICT_TEXT`; `answer` has about three sentences.
    `beside` stands on the first screen, below the answer; most reports have none.
    `summaries` hold one page for each reader, the study's own reader first. `tabulated` lets the
    page answer back. `asked` says what the verdict is on. `cut_off` is the date to which the
    records run; `method` names the method and its version for the foot of each page. `pointers`
    are those that its texts make to other parts (`report.references`). `provisos` are the clauses
    under which the verdict stands. `chosen` has a line for
    each setting that departs from its default, those first that can turn the verdict, and how many
    more there are. `brief` is the whole on two pages, where the report has an answer to sign.
    """

    title: str
    subtitle: str
    report_id: str
    answer: tuple[str, ...]
    verdict: str
    first_figure: Figure | None
    sections: tuple[Section, ...]
    cautions: tuple[Caution, ...]
    provenance: Provenance
    glossary: tuple[Explain, ...] = field(default=())
    summaries: tuple[Section, ...] = field(default=())
    tabulated: Tabulated | None = None
    asked: str = ""
    cut_off: str = ""
    method: str = ""
    pointers: tuple[Pointer, ...] = ()
    provisos: tuple[str, ...] = ()
    beside: tuple[Section, ...] = ()
    chosen: tuple[str, ...] = ()
    brief: Brief | None = None

    @property
    def parts(self) -> tuple[Section, ...]:
        """Return every section in reading order: first screen, readers' pages, chapters."""
        return (*self.beside, *self.summaries, *self.sections)
