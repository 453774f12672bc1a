"""What to do next, at the end of a verb: it fits the state, and each command runs as printed.

Rules of our own, no outside source.
"""

from __future__ import annotations

import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from fleetstats.cli import main
from fleetstats.cli.next_steps import after_claim, after_study
from fleetstats.studies.analyse import analyse
from fleetstats.study.study import read_study

HEAD = '[study]\ntitle = "made"\nanalysis_date = 2025-12-31\nclaimed_interval_h = 400\n'
ENOUGH = 60


def run(*args: str) -> Result:
    return CliRunner().invoke(main, list(args))


def steps(result: Result) -> list[str]:
    """Return what comes after "next:", which ends the output."""
    told = result.stderr.strip().splitlines()
    out = [x.removeprefix("next: ") for x in told if x.startswith("next: ")]
    assert told[len(told) - len(out) :] == [f"next: {x}" for x in out]
    return out


def commands(result: Result) -> list[list[str]]:
    """Return the arguments of each command that is named, without its reason."""
    named = [x[x.index("fleetstats ") :] for x in steps(result) if "fleetstats " in x]
    return [shlex.split(x.partition("    (")[0])[1:] for x in named]


def lay(folder: Path, *, n: int = ENOUGH, word: str = "running", bad: int = 0) -> Path:
    """Write a study of n lives, some of them with hours that are none."""
    folder.mkdir()
    rows = [f"K-{i:03d},{'x' if i < bad else 500 + 10 * i},{word},2025-11-30" for i in range(n)]
    table = ["engine,exit_hours,ending,last_reading_date", *rows]
    (folder / "lives.csv").write_text("\n".join(table) + "\n", encoding="utf-8")
    (folder / "study.toml").write_text(
        HEAD + '[[records]]\nfile = "lives.csv"\nsource = "club"\n', encoding="utf-8"
    )
    return folder


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def test_errors_lead_to_the_workbook_and_it_to_what_takes_it(tmp_path: Path) -> None:
    lay(tmp_path / "our club", bad=2)
    (tmp_path / "mend.xlsx").write_text("another's", encoding="utf-8")
    (write,) = commands(run("check", "our club"))
    assert write == ["check", "our club", "--out", "mend-2.xlsx"]
    wrote = run(*write)
    assert wrote.exit_code == 0, wrote.output
    (take,) = commands(wrote)
    assert take == ["check", "our club", "--take", "mend-2.xlsx"]
    assert run(*take).exit_code == 3  # nothing was filled in: the errors are still there


def test_words_that_nobody_knows_are_said_first(tmp_path: Path) -> None:
    lay(tmp_path / "club", word="kaputtish")
    told = steps(run("check", "club"))
    assert told[0] == "add the lines named above to study.toml"
    assert "[records.endings]" in run("check", "club").stdout


def test_a_clean_audit_leads_to_the_study(tmp_path: Path) -> None:
    lay(tmp_path / "club")
    assert commands(run("check", "club")) == [["study", "club"]]


@pytest.mark.parametrize(
    ("hours", "state", "verbs"),
    [
        ("400", "supported", ["plan", "study"]),
        ("2000", "not-yet-shown", ["calls", "plan", "study"]),
    ],
)
def test_what_follows_a_claim_fits_how_it_was_judged_and_runs(
    tmp_path: Path, hours: str, state: str, verbs: list[str]
) -> None:
    lay(tmp_path / "club")
    result = run("claim", "club", "--hours", hours)
    assert result.exit_code == (0 if state == "supported" else 3), result.output
    told = commands(result)
    assert [c[0] for c in told] == verbs
    for c in told[:-1]:
        assert c[1:4] == ["club", "--hours", hours]
        again = run(*c)
        assert again.exit_code in (0, 3), again.output


def test_a_study_and_a_claim_at_its_hours_lead_to_the_same(tmp_path: Path) -> None:
    folder = lay(tmp_path / "club")
    results = analyse(read_study(folder))
    verdict = results.advice.verdict
    assert verdict is not None
    mine = after_study(results, None, folder, tmp_path / "out", all_years=True)[1:]
    claim = after_claim(folder, verdict.word, verdict.claimed_h, reliability=None, since="")
    assert mine == claim[:-1]


def test_the_study_prints_the_first_step_of_its_brief(tmp_path: Path) -> None:
    lay(tmp_path / "club")
    result = run("study", "club", "--out", "out")
    assert result.exit_code in (0, 3), result.output
    page = " ".join((tmp_path / "out" / "report.html").read_text(encoding="utf-8").split())
    first = steps(result)[0]
    assert "fleetstats " not in first
    assert first in page
    assert (tmp_path / "out" / "brief.pdf").exists()
    assert any("brief.pdf" in x for x in steps(result))


@pytest.mark.parametrize("option", ["--quiet", "--json"])
@pytest.mark.parametrize("verb", ["check", "claim"])
def test_a_quiet_or_a_read_answer_ends_with_itself(tmp_path: Path, verb: str, option: str) -> None:
    lay(tmp_path / "club")
    assert "next: " not in run(verb, "club", option).output


def test_what_the_demo_offers_to_try_runs(tmp_path: Path) -> None:
    result = run("demo", "--quiet-fleet")
    assert result.exit_code in (0, 3), result.output
    told = [c for c in commands(result) if c[1].startswith("fleetstats-demo")]
    assert {"open", "check", "claim"} <= {c[0] for c in told}
    for c in told:
        if c[0] in ("check", "claim"):
            assert run(*c).exit_code in (0, 3)
        else:  # a page would wait for its reader
            assert (tmp_path / c[1] / "study.toml").exists()
