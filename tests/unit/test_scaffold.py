"""A new study: complete, readable as it stands, and never written over anything."""

from __future__ import annotations

import re

import pytest

from fleetstats.core.errors import SettingError
from fleetstats.core.files import write_whole
from fleetstats.records.audit.audit import audit_records
from fleetstats.records.readers import read_records
from fleetstats.spells.build import build_spells
from fleetstats.study.assumptions import assumptions
from fleetstats.study.scaffold import study_template, toml_text, write_scaffold
from fleetstats.study.study import read_study


def test_a_new_study_is_read_and_audited_without_a_finding(tmp_path):
    paths = write_scaffold(tmp_path / "new")
    assert [p.name for p in paths] == ["study.toml", "lives.csv", "log.csv", "histories.csv"]
    study = read_study(tmp_path / "new")
    records = read_records(study)
    audit = audit_records(study, records)
    assert audit.findings == ()
    assert build_spells(study, records, audit).spells.n_failed == 1


def test_the_example_log_is_read_too(tmp_path):
    write_scaffold(tmp_path)
    text = (tmp_path / "study.toml").read_text(encoding="utf-8")
    for line in ("[[records]]", 'file = "log.csv"', 'shape = "log"', 'source = "example log"'):
        text = text.replace(f"# {line}\n", f"{line}\n", 1)
    (tmp_path / "study.toml").write_text(text, encoding="utf-8")
    study = read_study(tmp_path)
    assert [f.shape for f in study.files] == ["lives", "log"]
    audit = audit_records(study, read_records(study))
    assert audit.ok
    assert (audit.n_read, audit.n_set_aside) == (6, 0)


def test_the_example_histories_are_read_too(tmp_path):
    write_scaffold(tmp_path)
    text = (tmp_path / "study.toml").read_text(encoding="utf-8")
    block = text[text.index('# file = "histories.csv"') - len("# [[records]]\n") :]
    block = block[: block.index('"overhaul" = "all"') + len('"overhaul" = "all"\n')]
    bare = "".join(line.removeprefix("# ") + "\n" for line in block.splitlines())
    (tmp_path / "study.toml").write_text(text.replace(block, bare), encoding="utf-8")
    study = read_study(tmp_path)
    assert [f.shape for f in study.files] == ["lives", "histories"]
    assert study.files[1].renews == {"overhaul": "all"}
    audit = audit_records(study, read_records(study))
    assert audit.ok
    assert (audit.n_read, audit.n_set_aside) == (5, 0)
    told = [(x.engine, x.entry_h, x.exit_h, x.ending) for x in audit.used if "E-03" in x.engine]
    assert told == [
        ("E-0301", 0.0, 812.4, "failed"), ("E-0301", 812.4, 1180.0, "running"),
        ("E-0302", 0.0, 640.0, "running"),
    ]  # fmt: skip


def test_every_setting_stands_in_the_template_with_its_default(tmp_path):
    """Taking the # from each default must leave every setting as it was."""
    write_scaffold(tmp_path)
    plain = read_study(tmp_path)
    text = study_template(title=plain.settings.study.title)
    bare, n = re.subn(r"^# ([a-z_0-9-]+ = (?! *\(not set\)).*)$", r"\1", text, flags=re.M)
    head = bare.split("[[records]]")[0] + '\n[[records]]\nfile = "lives.csv"\n'
    (tmp_path / "study.toml").write_text(head, encoding="utf-8")
    study = read_study(tmp_path)
    treat = study.settings.treat.actions
    assert set(treat.values()) == {"stop"}
    told = {a.key: a for a in assumptions(study.settings, study.chosen) if a.key != "treat"}
    assert n > 60
    assert all(a.value == a.default or a.required for a in told.values())
    unset = {a.key for a in told.values() if not a.chosen}
    assert all(told[k].default is None for k in unset), unset
    for key in told:
        assert re.search(rf"^#? ?{key.split('.')[1]} =", text, flags=re.M), key


def test_nothing_is_ever_overwritten(tmp_path):
    (tmp_path / "lives.csv").write_text("mine", encoding="utf-8")
    with pytest.raises(SettingError, match="is there already; nothing was written"):
        write_scaffold(tmp_path)
    assert (tmp_path / "lives.csv").read_text(encoding="utf-8") == "mine"
    assert [p.name for p in tmp_path.iterdir()] == ["lives.csv"]


def test_a_folder_that_cannot_be_made_is_named(tmp_path):
    (tmp_path / "file").write_text("x", encoding="utf-8")
    with pytest.raises(SettingError, match="cannot be laid out"):
        write_scaffold(tmp_path / "file" / "sub")


def test_a_file_is_written_whole_or_not_at_all(tmp_path):
    path = tmp_path / "a.txt"
    write_whole(path, "one")
    write_whole(path, "two")
    assert path.read_text(encoding="utf-8") == "two"
    with pytest.raises(FileExistsError):
        write_whole(path, "three", replace=False)
    assert path.read_text(encoding="utf-8") == "two"
    with pytest.raises(TypeError):
        write_whole(tmp_path / "b.txt", 3)  # type: ignore[arg-type]
    assert [p.name for p in tmp_path.iterdir()] == ["a.txt"]


@pytest.mark.parametrize("title", ['say "hi"', "back\\slash", "Ünï ☺", "a\tb"])
def test_texts_survive_the_way_into_toml_and_back(title):
    import tomllib

    assert tomllib.loads(f"x = {toml_text(title)}")["x"] == title
