"""The lines that `check` proposes for words that nobody knows do what they say."""

from __future__ import annotations

import re
from pathlib import Path

from fleetstats.records.audit.audit import audit_records
from fleetstats.records.audit.finding import Audit
from fleetstats.records.readers import read_records
from fleetstats.study.study import read_study

STUDY = """[study]
title = "Our fleet"
analysis_date = 2026-09-30
[[records]]
file = "r.csv"
[[records]]
file = "log.csv"
shape = "log"
"""


def audited(folder: Path) -> Audit:
    study = read_study(folder)
    return audit_records(study, read_records(study))


def test_the_lines_said_cure_what_they_are_said_for(tmp_path: Path) -> None:
    (tmp_path / "r.csv").write_text(
        "engine,exit_h,ending\nA1,100,running\nA2,300,verkauft\nA3,500,kaputt\nA4,90,Kaputt\n"
    )
    (tmp_path / "log.csv").write_text(
        "engine,date,kind,hours\nB1,2020-01-02,installed,0\nB1,2021-01-02,ausgebaut,100\n"
    )
    (tmp_path / "study.toml").write_text(STUDY)
    told = str(audited(tmp_path))
    maps = dict(re.findall(r"  \[records\.(\w+)\]\n((?:  \".*\n?)+)", told))
    assert set(maps) == {"endings", "kinds"}
    assert 'kaputt" = "…"    # rows 4, 5' in maps["endings"]  # once, however it is written
    assert "failed, found-at-check" in told
    meant = {"verkauft": "removed", "kaputt": "failed", "ausgebaut": "removed"}
    text = STUDY
    for name, after in (("kinds", 'shape = "log"\n'), ("endings", 'file = "r.csv"\n')):
        lines = f"[records.{name}]\n{maps[name]}"
        for word, ours in meant.items():
            lines = re.sub(rf'("{word}" = )"…"', rf'\1"{ours}"', lines)
        text = text.replace(after, after + lines)
    (tmp_path / "study.toml").write_text(text)
    cured = audited(tmp_path)
    assert not [f for f in cured.findings if f.code in ("ending-unknown", "log-kind-unknown")]
    assert "To say what these words mean" not in str(cured)


def test_a_word_with_quotation_marks_is_written_as_toml_reads_it(tmp_path: Path) -> None:
    (tmp_path / "r.csv").write_text('engine;exit_h;ending\nA1;100;"gone ""west"" or \\\\?"\n')
    text = STUDY.split('[[records]]\nfile = "log.csv"')[0]
    (tmp_path / "study.toml").write_text(text)
    before = audited(tmp_path)
    assert before.stops
    line = next(x for x in str(before).splitlines() if x.endswith("# row 2") and "=" in x)
    (tmp_path / "study.toml").write_text(
        text + "[records.endings]\n" + line.replace('"…"', '"removed"') + "\n"
    )
    assert not audited(tmp_path).stops
