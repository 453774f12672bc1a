"""A small made-up report that uses every kind of block, mark and scale; with names from hell."""

from __future__ import annotations

import numpy as np

from fleetstats.core.provenance import Provenance, SourceFile
from fleetstats.document.document import (
    Axis,
    Column,
    Document,
    Explain,
    Figure,
    Layer,
    Panel,
    Section,
    Statement,
    Table,
)
from fleetstats.document.tabulated import Knob, Readout, Tabulated
from fleetstats.vocabulary.caution import Caution

EVIL = '<script>alert("x")</script> & $x_1$ =1+1 \u202e\x07 -->'


def curve_figure(key: str = "survival", title: str = "Survival") -> Figure:
    t = np.linspace(10, 2000, 60)
    r = np.exp(-((t / 2200) ** 2.4))
    layers = (
        Layer(kind="line", role="estimate", label="fit", x=t, y=r, extrapolated_from=1450.0),
        Layer(kind="ribbon", role="band", label="90 % band", x=t, low=r - 0.05,
              high=np.minimum(1, r + 0.04), extrapolated_from=1450.0),
        Layer(kind="step", role="reference", label="steps", x=np.array([0.0, 500, 1000, 1400]),
              y=np.array([1, 0.97, 0.9, 0.8])),
        Layer(kind="points", role="failure", label="failures", x=np.array([500.0, 1000]),
              y=np.array([0.97, 0.9]), low=np.array([0.9, 0.8]), high=np.array([1.0, 0.95]),
              names=("E-1", EVIL)),
        Layer(kind="vline", role="horizon", label="evidence ends 1,450 h", x=np.array([1450.0])),
        Layer(kind="vline", role="claim", label=EVIL, x=np.array([1200.0])),
        Layer(kind="hline", role="target", label="target", y=np.array([0.9])),
        Layer(kind="zone", role="advice", label="advice", x=np.array([900.0]),
              x2=np.array([1100.0])),
    )  # fmt: skip
    return Figure(
        key=key,
        title=title,
        see="What to see.",
        alt=f"A falling curve. {EVIL}",
        panels=(
            Panel(
                x=Axis(label="Hours", unit="h"),
                y=Axis(label="Share", unit="probability"),
                layers=layers,
            ),
        ),
    )


def other_figure() -> Figure:
    t = np.geomspace(50, 3000, 40)
    n = 5
    return Figure(
        key="other",
        title=EVIL,
        see="",
        alt="Bars and spans.",
        columns=2,
        panels=(
            Panel(
                x=Axis(label="Hours", unit="h", scale="log"),
                y=Axis(label="Chance", scale="probability", unit="probability"),
                layers=(
                    Layer(kind="line", role="group-1", label="one", x=t,
                          y=-np.expm1(-((t / 2000) ** 2))),
                ),
            ),
            Panel(
                x=Axis(label="Hours", unit="h"),
                y=Axis(label="", scale="category", categories=("a", "b", "c", "d", EVIL)),
                layers=(
                    Layer(kind="spans", role="running", label="running", x=np.zeros(n),
                          x2=np.arange(1.0, n + 1), y=np.arange(float(n)),
                          names=("u", "v", "w", "x", EVIL)),
                ),
            ),
            Panel(
                x=Axis(label="Hours", unit="h"),
                y=Axis(label="Hours lived", unit="h"),
                layers=(
                    Layer(kind="bars", role="group-2", label="lived", x=np.arange(4.0),
                          x2=np.arange(1.0, 5.0), high=np.array([3.0, 5, 2, 1]),
                          extrapolated_from=3.0),
                ),
            ),
        ),
    )  # fmt: skip


def engines_table() -> Table:
    rows = tuple(
        (f"E-{i:03}", "failed" if i % 7 == 0 else "running", 100.0 + 13.7 * i,
         None if i % 5 else 0.0023 * i, i)
        for i in range(30)
    )  # fmt: skip
    return Table(
        key="engines",
        title="Every engine",
        columns=(
            Column(key="engine", title="Engine"),
            Column(key="ending", title="Ending"),
            Column(key="exit_h", title="Exit", kind="hours"),
            Column(key="chance", title="Chance", kind="percent", help=EVIL),
            Column(key="n", title="Readings", kind="count"),
        ),
        rows=rows,
        see="One row each.",
    )


def evil_table() -> Table:
    return Table(
        key="evil",
        title=EVIL,
        columns=(Column(key="text", title=EVIL), Column(key="x", title="x", kind="number")),
        rows=(
            (EVIL, 1.5),
            ("=HYPERLINK(1)", -2.0),
            ("+1", 0),
            ("-1", float("nan")),
            ("@sum", float("inf")),
            ("\t=1", 3),
            ("  =1", 1e-9),
            ("plain", None),
        ),
        folded=True,
    )


def tabulated() -> Tabulated:
    claim = np.arange(200.0, 2001.0, 100.0)
    hidden = np.arange(4.0)
    r = np.exp(-((claim / 2200) ** 2.4))[:, None] - 0.02 * hidden
    word = np.where(r > 0.8, 0.0, np.where(r > 0.6, 1.0, 2.0))
    age = np.array([900.0, 850.0, np.nan, 700.0])
    return Tabulated(
        knobs=(
            Knob(key="claim_h", label="Claimed hours", kind="hours", values=claim, start=1200.0,
                 free=True),
            Knob(key="hidden", label="Unreported failures", kind="count", values=hidden, start=0.0),
        ),
        readings=(
            Readout(row="Verdict", part="word", kind="word", axes=("claim_h", "hidden"),
                    values=word.ravel(), words=("supported", "not yet shown", "contradicted")),
            Readout(row="Reliability", part="low", kind="percent", axes=("claim_h", "hidden"),
                    values=r.ravel(), beyond=np.repeat(claim > 1450, len(hidden))),
            Readout(row="Age", part="low", kind="hours", axes=("hidden",), values=age,
                    none="not shown at any age", round_to=50.0),
        ),
    )  # fmt: skip


def make_document() -> Document:
    box = Table(
        key="claim-box",
        title="The claim",
        columns=(Column(key="fact", title=""), Column(key="value", title="")),
        rows=(("Question", "removal"), ("Asked by", EVIL)),
    )
    return Document(
        title=f"Tow engines {EVIL}",
        subtitle=EVIL,
        report_id="FS-0123456789",
        answer=("First 1,200 h.", "Second.", "Third."),
        verdict="not-yet-shown",
        asked="Claimed today: 1,200 h",
        first_figure=curve_figure(),
        sections=(
            Section(
                key="answer",
                title="The answer",
                blocks=(
                    box,
                    *(
                        Statement(text=f"Tone {t}. {EVIL}", tone=t)
                        for t in ("fact", "answer", "caution", "extrapolation", "missing",
                                  "assumption")
                    ),
                    Explain(term="Band", text=f"A range. {EVIL}"),
                ),
            ),
            Section(key="data", title=EVIL, blocks=(other_figure(), engines_table(), evil_table())),
        ),
        cautions=(Caution(code="few-failures", text=EVIL, where="fit", value="3", limit="5"),),
        provenance=Provenance(
            files=(SourceFile(name="a.csv", size_bytes=10, sha256="ab" * 32, rows=3),),
            versions={"python": "3"},
            seed=1,
            command="fleetstats study demo",
        ),
        glossary=(Explain(term="At risk", text="Engines watched."),),
        summaries=(
            Section(key="for-club", title="For the club", blocks=(Statement(text="Yes."),)),
            Section(key="for-builder", title="For the builder", blocks=(Statement(text="No."),)),
        ),
        tabulated=tabulated(),
        cut_off="2026-09-30",
        method="profile likelihood",
    )  # fmt: skip
