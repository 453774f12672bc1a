"""Several record files, each with its own heads, words, marks and meter, read by chunks.

The check is the same files read whole. Records are invented.
"""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any

import pytest

from fleetstats.chapters.compose import compose_checked
from fleetstats.chapters.consistency.places import list_rows
from fleetstats.spells.bulk import bulk_sample
from fleetstats.spells.bulk.bulk import read_bulk
from fleetstats.spells.bulk.bulk_study import ReturnsToMerge, unmet_conditions
from fleetstats.studies import how_read, long_chapters
from fleetstats.studies.analyse import analyse, read_lives_of
from fleetstats.studies.how_read import choose_reading
from fleetstats.study.study import Study, read_study

STUDY = """\
[study]
title = "Two senders"
analysis_date = 2026-01-31
claimed_interval_h = 900
[hours]
meter = "flight"
factors = {tach = 1.1}
[merge]
returns = false
[treat]
hours-missing = "set-aside"
duplicate-life = "set-aside"
duplicate-row = "set-aside"
[[records]]
file = "club.csv"
source = "club"
[[records]]
file = "werft.csv"
source = "shop"
meter = "tach"
[records.columns]
engine = "Motor"
exit_hours = "Stunden"
ending = "Zustand"
cause = "Grund"
entry_hours = "ab"
[records.endings]
kaputt = "failed"
fliegt = "running"
"""
WORDS = {"failed": "kaputt", "running": "fliegt", "sold": "sold"}


def two_tables(folder: Path) -> Study:
    """Return a study of two tables that differ in all but what they tell; some engines in both."""
    r = random.Random(7)
    club, shop = ["engine,entry_hours,exit_hours,ending,cause"], ["Zustand;ab;Grund;Stunden;Motor"]
    for i in range(240):
        entry = r.choice([0.0, 0.0, round(r.uniform(20, 200), 1)])
        stop = round(entry + r.uniform(60, 1100), 1)
        end = r.choices(["failed", "running", "sold"], [2, 6, 1])[0]
        cause = r.choice(["piston", "valve"]) if end == "failed" and r.random() < 0.8 else ""
        if i % 2:
            club.append(f"E{i},{entry:g},{stop:g},{end},{cause}")
        else:
            told = [f"{x:.1f}".replace(".", ",") for x in (entry, stop)]
            shop.append(f"{WORDS[end]};{told[0]};{cause};{told[1]};E{i}")
    club += ["E1000,0,,failed,valve", club[5]]  # no hours, and a row told twice
    shop += [f"kaputt;0,0;Ventil;{r.uniform(300, 900):.1f};E1".replace(".", ","),
             "fliegt;0,0;;;E1002"]  # fmt: skip
    (folder / "club.csv").write_text("\n".join(club) + "\n", encoding="utf-8")
    (folder / "werft.csv").write_text("\n".join(shop) + "\n", encoding="utf-8")
    (folder / "study.toml").write_text(STUDY, encoding="utf-8")
    return read_study(folder)


def test_lives_and_accounts_are_those_of_the_tables_read_whole(tmp_path: Path) -> None:
    study = two_tables(tmp_path)
    assert unmet_conditions(study) == ()
    _, audit, built = read_lives_of(study)
    bulk = read_bulk(study).bulk

    def lives(s: Any) -> list[tuple[float, ...]]:
        return sorted(
            (e, a, b, float(k), 1.0)
            for e, a, b, k, w in zip(
                s.entry.tolist(), s.exit_lower.tolist(), s.exit_upper.tolist(), s.event.tolist(),
                s.weight.tolist(), strict=True,
            )
            for _ in range(round(w))
        )  # fmt: skip

    assert lives(bulk.spells) == lives(built.spells)
    assert bulk.accounts == audit.accounts
    assert [(a.file, a.source, a.n_set_aside) for a in bulk.accounts] == [
        ("club.csv", "club", 3), ("werft.csv", "shop", 1)
    ]  # fmt: skip
    assert bulk.n_set_aside == sum(a.n_set_aside for a in bulk.accounts)
    assert bulk.engines == len({x.engine_id for x in audit.used} | {"e1000", "e1002"})
    # a finding names the column as its own file does
    assert {(f.file, f.column) for f in bulk.findings if f.code == "hours-missing"} == {
        (f.file, f.column) for f in audit.findings if f.code == "hours-missing"
    }
    assert ("werft.csv", "Stunden") in {(f.file, f.column) for f in bulk.findings}
    of_one = {(f.file, f.message) for f in audit.findings if f.code == "cause-missing"}
    assert len(of_one) == 2
    assert {(f.file, f.message) for f in bulk.findings if f.code == "cause-missing"} == of_one


def test_their_answers_are_those_of_the_tables_read_whole(tmp_path: Path) -> None:
    study = two_tables(tmp_path)
    whole, chunks = (analyse(study, chunks=c) for c in (False, True))
    a, b = (x.advice.reliability.life for x in (whole, chunks))
    assert a is not None
    assert b is not None
    assert (b.low, b.estimate, b.high) == pytest.approx((a.low, a.estimate, a.high), rel=1e-9)
    for one, other in zip(
        whole.chapters["sources"].lines, chunks.chapters["sources"].lines, strict=True
    ):
        assert (one.source, one.n, one.n_ended_failed) == (
            other.source,
            other.n,
            other.n_ended_failed,
        )
    assert whole.chapters["claim"].failure_high == pytest.approx(
        chunks.chapters["claim"].failure_high, rel=1e-9
    )


def test_findings_of_a_table_in_several_files_name_its_own_columns(tmp_path: Path) -> None:
    for name, ids in (("1", "AB"), ("2", "CD")):
        rows = "".join(f"{x};500;running;\n" for x in ids)
        (tmp_path / f"part-{name}.csv").write_text(
            "Motor;Stunden;Zustand;gelesen\n" + rows, "utf-8"
        )
    (tmp_path / "study.toml").write_text(
        '[study]\ntitle = "Parts"\nanalysis_date = 2026-01-31\n'
        '[[records]]\nfile = "part-*.csv"\n[records.columns]\nengine = "Motor"\n'
        'exit_hours = "Stunden"\nending = "Zustand"\nlast_reading_date = "gelesen"\n', "utf-8",
    )  # fmt: skip
    found = read_bulk(read_study(tmp_path)).bulk.findings
    told = {f.code: (f.file, f.column) for f in found}
    assert told["reading-undated"] == ("part-*.csv", "gelesen")


def test_tables_are_long_together(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Neither reaches the size from which chunks are the rule, both together do."""
    study = two_tables(tmp_path)
    sizes = [(tmp_path / f).stat().st_size for f in ("club.csv", "werft.csv")]
    monkeypatch.setattr(how_read, "CHUNKS_FROM_BYTES", sum(sizes) + 1)
    assert not choose_reading(study).by_chunks
    monkeypatch.setattr(how_read, "CHUNKS_FROM_BYTES", sum(sizes))
    assert choose_reading(study).sentence.startswith("Read by chunks, since 2 files have 0.0 MB; ")


def test_engines_of_several_tables_are_merged_only_where_they_are_read_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """E1 stands in both: with returns to merge the tables are read whole whatever their size."""
    two_tables(tmp_path)
    text = (tmp_path / "study.toml").read_text(encoding="utf-8")
    (tmp_path / "study.toml").write_text(text.replace("returns = false", "returns = true"), "utf-8")
    study = read_study(tmp_path)
    monkeypatch.setattr(how_read, "CHUNKS_FROM_BYTES", 100)
    told: list[str] = []
    results = analyse(study, quick=True, tell=told.append)
    assert choose_reading(study).by_chunks
    assert (results.how_read.by_chunks, results.how_read.reason) == (False, "merging")
    assert results.how_read.sentence in told
    assert results.audit.reasons["merged"] == 1
    with pytest.raises(ReturnsToMerge, match=r"set merge\.returns = false"):
        analyse(study, chunks=True)
    rows = (tmp_path / "werft.csv").read_text(encoding="utf-8").splitlines()
    without = "\n".join(x for x in rows if not x.endswith(";E1"))
    (tmp_path / "werft.csv").write_text(without, encoding="utf-8")
    assert analyse(read_study(tmp_path), quick=True).how_read.by_chunks


def test_a_long_table_of_which_a_part_is_looked_at_does_not_contradict_itself(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its cut-off of today stands beside an answer to the hour, and the outlook beside its end."""
    r = random.Random(11)
    rows = ["engine,exit_hours,ending,in_service_date,last_reading_date,ended_date"]
    for i in range(1500):
        stop = round(r.uniform(60, 1500), 1)
        failed = r.random() < 0.15
        rows.append(f"E{i},{stop:g},{'failed' if failed else 'running'},"
                    f"{r.randint(2008, 2014)}-04-01,{'' if failed else '2026-01-10'},"
                    f"{f'{r.randint(2016, 2025)}-06-01' if failed else ''}")  # fmt: skip
    (tmp_path / "lives.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    head = STUDY[: STUDY.index("[hours]")]
    (tmp_path / "study.toml").write_text(head + '[[records]]\nfile = "lives.csv"\n', "utf-8")
    monkeypatch.setattr(long_chapters, "MOST_DISTINCT", 100)  # ages are compared in steps
    monkeypatch.setattr(bulk_sample, "MOST_LIVES", 300)
    results, document = compose_checked(analyse(read_study(tmp_path), chunks=True))
    assert results.chapters["pairing"].compared_to_h > 1.0
    assert "looking-back" in results.chapters["sampled"].by_chapter
    assert any(x.table == "looking-back" for x in list_rows(document))
    assert [c.text for c in results.advice.cautions if c.code == "figures-disagree"] == []
