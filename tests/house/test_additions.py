"""The table "you want to add … it goes to …" of DEVELOPERS.md is true.

For each of twelve tasks the addition is made in a copy of the package, in files that the table's
row names and in no other; then a fresh interpreter uses what was added.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
ROWS = {
    name.strip(): goes for name, goes in re.findall(r"^\| (.+?) \| (.+) \|$", PAGE, re.MULTILINE)
}

STUDY = """
from pathlib import Path
import fleetstats as fs
def study(more="", rows=40):
    folder = Path("made"); folder.mkdir(exist_ok=True)
    (folder / "study.toml").write_text(
        '[study]\\ntitle = "Made"\\nanalysis_date = 2026-01-01\\nclaimed_interval_h = 1000\\n'
        + more + '\\n[question]\\nname = "internal engine failure"\\n'
        '[[records]]\\nfile = "lives.csv"\\nshape = "lives"\\nsource = "shop"\\n')
    lines = ["engine,exit_hours,ending,cause,last_reading_date"]
    lines += [f"E-{i},{400 + 25 * i},{'failed' if i % 7 == 3 else 'running'},"
              f"{'piston' if i % 7 == 3 else ''},{'' if i % 7 == 3 else '2024-01-01'}"
              for i in range(rows)]
    (folder / "lives.csv").write_text("\\n".join(lines) + "\\n")
    return fs.read_study(folder)
"""


@dataclass(frozen=True)
class Addition:
    """What is added: edits as file = (old, new), new files as file = text, and what must then hold.

    `tests` are files under tests/ that the row names besides; they are not copied.
    """

    row: str
    edits: dict[str, tuple[str, str]]
    probe: str
    new: tuple[tuple[str, str], ...] = ()


ADDITIONS = (
    Addition(
        "a setting or option of the study file",
        {
            "study/settings.py": (
                "    commercial: bool = key(",
                '    remark: str = key("What a reader should know first.", default="none")\n'
                "    commercial: bool = key(",
            )
        },
        """
s = study('remark = "second engine of each pair"')
assert s.settings.study.remark == "second engine of each pair"
from fleetstats.study.assumptions import assumptions
assert any("remark" in a.key and "pair" in str(a.value) for a in assumptions(s.settings, s.chosen))
from fleetstats.study.scaffold import study_template
assert "remark" in study_template()
""",
    ),
    Addition(
        'a way of writing that is one word, a word for "unknown"',
        {"vocabulary/unknown.py": ('    "undetermined",', '    "no idea", "undetermined",')},
        """
from fleetstats.vocabulary.unknown import cause_known
assert not cause_known("No-Idea")
""",
    ),
    Addition(
        "a word for a column, an ending or an event",
        {
            "vocabulary/fields/lives.py": (
                '        words=("exit", "exit h", "hours", "hours at exit",',
                '        words=("laufzeit", "exit", "exit h", "hours", "hours at exit",',
            ),
            "vocabulary/endings.py": (
                '    "failed": ("failure", ',
                '    "failed": ("kaputt", "failure", ',
            ),
        },
        """
s = study()
lives = Path("made/lives.csv")
lives.write_text(lives.read_text().replace("exit_hours", "Laufzeit").replace("failed", "Kaputt"))
again = fs.analyse(fs.read_study("made"))
assert again.audit.ok and "failed" in {r.ending for r in again.built.rows}
assert [r.exit_h for r in again.built.rows] == [400.0 + 25 * i for i in range(40)]
""",
    ),
    Addition(
        "an audit finding",
        {
            "vocabulary/findings/rows.py": (
                "ROWS = (\n",
                "ROWS = (\n    warning(\n"
                '        "hours-round",\n        "Hours that end in three noughts.",\n'
                '        says="{hours:g} h ends in three noughts.",\n'
                '        cure="Read the meter again.",\n    ),\n',
            ),
            "records/audit/audit_dates.py": (
                "    day = settings.study.analysis_date\n    future = False\n",
                "    day = settings.study.analysis_date\n    future = False\n"
                "    if life.exit_h % 1000 == 0:\n"
                '        yield life_finding("hours-round", life, hours=life.exit_h)\n',
            ),
        },
        """
s = study()
audit = fs.audit_records(s, fs.read_records(s))
assert [f.row for f in audit.findings if f.code == "hours-round"] == [26], audit
assert "1000 h ends in three noughts. Read the meter again." in str(audit)
""",
    ),
    Addition(
        "a caution",
        {
            "vocabulary/cautions/fleet.py": (
                "FLEET = (\n",
                "FLEET = (\n    caution_entry(\n"
                '        "one-source",\n        SECOND,\n'
                '        "All records come from one source.",\n        cure="Ask another.",\n'
                '        cases=Case("records", "Only {who} tells of these engines."),\n    ),\n',
            ),
            "chapters/cautions/compute.py": (
                "        *_declared(settings),\n",
                "        *_declared(settings),\n"
                '        caution("one-source", who=str(spells.source[0])),\n',
            ),
        },
        """
found = [c for c in fs.analyse(study()).advice.cautions if c.code == "one-source"]
assert [c.text for c in found] == ["Only shop tells of these engines."]
""",
    ),
    Addition(
        "a threshold of a rule",
        {"vocabulary/limits.py": ("STALE_SHARE: Final = 0.20", "STALE_SHARE: Final = 1.0")},
        """
assert "stale-hours" not in [c.code for c in fs.analyse(study()).advice.cautions]
""",
    ),
    Addition(
        "a model family",
        {
            "survival/distribution.py": (
                "DISTRIBUTIONS = {\n    d.family: d\n    for d in (\n",
                "DISTRIBUTIONS = {\n    d.family: d\n    for d in (\n"
                "        Distribution(\n"
                '            family="square",\n            title="square hazard",\n'
                '            names=("scale_h",),\n'
                "            cumulative_hazard=lambda t, p: (np.asarray(t) / p[0]) ** 2,\n"
                "            log_hazard=lambda t, p: np.log(2 * np.asarray(t) / p[0] ** 2),\n"
                "            quantile=lambda q, p: p[0] * np.sqrt(-np.log1p(-np.asarray(q))),\n"
                "        ),\n",
            ),
            "survival/families/family_fits.py": (
                "def _fit_exponential(",
                "def _fit_square(spells: Spells) -> Fit:\n"
                "    total = float((spells.weight * (spells.exit_upper**2\n"
                "                                    - spells.entry**2)).sum())\n"
                "    scale = math.sqrt(total / spells.n_failed)\n"
                "    top = DISTRIBUTIONS['square']\n"
                "    at = spells.exit_upper[spells.failed]\n"
                "    value = float(top.log_hazard(at, np.array([scale])).sum())\n"
                "    value -= spells.n_failed\n"
                "    return _fit('square', spells, np.array([scale]),\n"
                "                np.array([[scale**2 / (4 * spells.n_failed)]]), value)\n\n\n"
                "def _fit_exponential(",
            ),
            "survival/families/family_fits.py#2": (
                '    "exponential": _fit_exponential,\n',
                '    "exponential": _fit_exponential,\n    "square": _fit_square,\n',
            ),
        },
        """
lives = fs.Spells.of(0, range(100, 1600, 50), [k % 5 == 3 for k in range(30)])
fit = fs.fit_family(lives, "square")
assert fit.family == "square" and fit.log_likelihood < fs.fit_weibull(lives).log_likelihood
assert "square" in [f.family for f in fs.fit_families(lives).fits]
""",
    ),
    Addition(
        "a kind of band",
        {
            "bands/method.py": (
                '           "calibrated-profile", "posterior", "wald")',
                '           "calibrated-profile", "posterior", "wald", "double")',
            ),
            "bands/choose.py": (
                '            if self.method in ("profile", "wald"):\n',
                '            if self.method == "double":\n'
                "                from fleetstats.bands.double import band_double\n\n"
                "                return band_double(self.fit, quantity, level=self.level)\n"
                '            if self.method in ("profile", "wald"):\n',
            ),
        },
        """
lives = fs.Spells.of(0, range(100, 1600, 50), [k % 5 == 3 for k in range(30)])
fit = fs.fit_weibull(lives)
ask = lambda m: fs.band(lives, fit, fs.Quantity.life(0.1), level=0.9, method=m)
wide, plain = ask("double"), ask("wald")
assert wide.method == "double" and wide.low < plain.low and wide.high > plain.high
""",
        new=(
            (
                "bands/double.py",
                '"""Normal limits at twice the doubt."""\n\n'
                "from dataclasses import replace\n\n"
                "from fleetstats.bands.likelihood.wald import band_normal\n\n\n"
                "def band_double(fit, quantity, *, level):\n"
                '    """Return normal limits at half the tail."""\n'
                "    wide = band_normal(fit, quantity, level=0.5 * (1 + level))\n"
                '    return replace(wide, method="double", level=level)\n',
            ),
        ),
    ),
    Addition(
        "a rule that decides",
        {
            "advice/judge.py": (
                "    return low is not None and low >= target and not extrapolated\n",
                "    return low is not None and low >= 0.2 * target and not extrapolated\n",
            )
        },
        """
import json
from click.testing import CliRunner
from fleetstats.cli import main
s = study()
whole = fs.analyse(s)
out = CliRunner().invoke(main, ["claim", "made", "--json", "--quiet"]).output
told = json.loads(out)
assert whole.advice.verdict.word == whole.chapters["claim"].state == told["state"] == "supported"
""",
    ),
    Addition(
        "a chapter",
        {
            "chapters/registry.py": (
                '        Chapter(key="failures", compose=compose_failures, long_tables=True,\n',
                '        Chapter(key="oldest", stage="the oldest engine", compute=chapter_oldest,\n'
                "                show=oldest_section, verb=OLDEST),\n"
                '        Chapter(key="failures", compose=compose_failures, long_tables=True,\n',
            ),
            "chapters/registry.py#2": (
                "CHAPTERS: dict[str, Chapter] = {",
                "from fleetstats.chapters.oldest.chapter import chapter_oldest, oldest_section\n"
                "from fleetstats.chapters.verbs import OLDEST\n\n"
                "CHAPTERS: dict[str, Chapter] = {",
            ),
            "chapters/verbs.py": (
                "CHAPTER_VERBS = (",
                'OLDEST = Verb(name="oldest", line="Name the oldest engine.",\n'
                '              says="Name the oldest engine of FOLDER.", missing="None.")\n\n'
                "CHAPTER_VERBS = (OLDEST, ",
            ),
        },
        """
import json
from click.testing import CliRunner
from fleetstats.cli import main
results = fs.analyse(study())
document = fs.compose_report(results)
assert "oldest" in [s.key for s in document.sections]
told = json.loads(CliRunner().invoke(main, ["oldest", "made", "--json", "--quiet"]).output)
assert told["engine"] == results.chapters["oldest"].engine == "E-39", told
said = CliRunner().invoke(main, ["oldest", "--help"]).output
assert "Name the oldest engine of FOLDER." in said
""",
        new=(
            ("chapters/oldest/__init__.py", '"""Which engine is oldest."""\n'),
            (
                "chapters/oldest/chapter.py",
                '"""The oldest engine, as a chapter."""\n\n'
                "from __future__ import annotations\n\n"
                "from fleetstats.core.value import Value, value\n"
                "from fleetstats.document.document import Section, Statement\n\n\n"
                "@value\nclass Oldest(Value):\n"
                '    """The oldest engine."""\n\n    sentence: str\n    engine: str\n\n\n'
                "def chapter_oldest(base, _done):\n"
                '    """Return the oldest engine."""\n'
                "    top = max(base.built.rows, key=lambda r: r.exit_h)\n"
                '    return Oldest(sentence=f"{top.engine} is oldest.", engine=top.engine)\n\n\n'
                "def oldest_section(found):\n"
                '    """Return its section."""\n'
                "    return Section(key='oldest', title='Oldest engine',\n"
                "                   blocks=(Statement(text=found.sentence, tone='fact'),))\n",
            ),
        ),
    ),
    Addition(
        "a sentence about results",
        {
            "chapters/claim/words.py": (
                "were seen over {claim.exposure_h:,.0f} h, ",
                "stood under observation for {claim.exposure_h:,.0f} h, ",
            )
        },
        """
from fleetstats.document.parts import walk_blocks
results = fs.analyse(study())
assert "stood under observation for" in results.chapters["claim"].may_quote
texts = " ".join(getattr(b, "text", "") for _, b in walk_blocks(fs.compose_report(results)))
assert "stood under observation for" in texts and "were seen over" not in texts
""",
    ),
    Addition(
        "a format of the report",
        {
            "report/write.py": (
                '    _put_pieces(out, "report.json", lambda: document_pieces(document))\n',
                '    _put_pieces(out, "report.json", lambda: document_pieces(document))\n'
                "    from fleetstats.report.plain import plain_text\n\n"
                '    out["report.txt"] = plain_text(document).encode()\n',
            )
        },
        """
fs.write_report(fs.compose_report(results := fs.analyse(study())), results, "out")
text = Path("out/report.txt").read_text()
assert text.startswith("Made") and results.advice.overhaul_band.sentence in text
assert "report.txt" in Path("out/manifest.json").read_text()
""",
        new=(
            (
                "report/plain.py",
                '"""The report as plain text."""\n\n'
                "from fleetstats.document.document import Statement\n"
                "from fleetstats.document.parts import walk_blocks\n\n\n"
                "def plain_text(document):\n"
                '    """Return title and statements."""\n'
                "    blocks = [b for _, b in walk_blocks(document)]\n"
                "    said = [b.text for b in blocks if isinstance(b, Statement)]\n"
                '    return "\\n".join([document.title, *said])\n',
            ),
        ),
    ),
)  # fmt: skip


def named_in(row: str) -> list[str]:
    """Return the files and folders that a row of the table names."""
    return re.findall(r"`([\w/.]+)`", ROWS[row])


def is_named(file: str, row: str) -> bool:
    """Return whether a row names a file, by itself, by its folder or as a room's words."""
    if row == "a sentence about results" and Path(file).name == "words.py":
        return True
    # "the rule in `records/`" and "the rule where the figures are": any file of those floors
    where_the_figures_are = ("chapters/", "advice/") if "where the figures are" in ROWS[row] else ()
    return any(
        file == n or (n.endswith("/") and file.startswith(n)) for n in named_in(row)
    ) or file.startswith(where_the_figures_are or ("\0",))


@pytest.mark.parametrize("added", ADDITIONS, ids=lambda a: a.row.replace(" ", "-"))
def test_what_is_added_goes_where_the_table_says(added: Addition, tmp_path: Path) -> None:
    assert added.row in ROWS
    touched = [f.partition("#")[0] for f in added.edits] + [f for f, _ in added.new]
    elsewhere = [f for f in touched if not is_named(f, added.row)]
    assert not elsewhere, f"the row '{added.row}' does not name {elsewhere}"
    package = tmp_path / "fleetstats"
    shutil.copytree(ROOT / "fleetstats", package, ignore=shutil.ignore_patterns("__pycache__"))
    for file, (old, new) in added.edits.items():
        path = package / file.partition("#")[0]
        text = path.read_text(encoding="utf-8")
        assert text.count(old) == 1, f"{file} holds {text.count(old)} times: {old}"
        path.write_text(text.replace(old, new), encoding="utf-8")
    for file, text in added.new:
        (package / file).parent.mkdir(parents=True, exist_ok=True)
        (package / file).write_text(text, encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", STUDY + added.probe],
        cwd=tmp_path,
        env=os.environ | {"PYTHONPATH": str(tmp_path)},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr[-3000:]
