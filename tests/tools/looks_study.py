"""What ten looks at growing records do to a claim, and what holds the error: the study of looks.

``python tests/tools/looks_study.py`` makes 1,000 fleets a cell (shapes 1, 2.5 and 4; 250 engines,
the same half heard of late, 60 engines, and a fleet that has stopped growing; the claim at half its
limit, at it, at twice it), asks each at ten looks by every rule, and writes ``looks.csv`` and
``looks.md`` to ``reports/calibration``. ``--asked 300`` besides asks `judge_claim` itself, look by
look, of so many fleets of three cells: whatever rule bounds are quoted by.
"""

from __future__ import annotations

import argparse
import csv
import io
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields, replace
from pathlib import Path

import numpy as np
from looks_fleets import ACCEPTED, CLAIM_H, LOOKS, Asked, LookCell, ask_fleets, spells_at

from fleetstats.advice.judge import judge_claim
from fleetstats.advice.looks.look import EarlierLook, information_of, join_looks, round_down
from fleetstats.advice.quoted import Quoter
from fleetstats.bands.looks.spending import allot, spread_evenly
from fleetstats.core.files import write_whole
from fleetstats.core.value import Array
from fleetstats.study.look_settings import LookKeys
from fleetstats.study.settings import Settings, StudyKeys, TargetKeys
from fleetstats.survival.weibull.fit_weibull import try_fit

SEED, FLEETS, ALPHA = 20261129, 1000, 0.05
SHAPES, RATIOS = (1.0, 2.5, 4.0), (0.5, 1.0, 2.0)
WAYS = (("joining", 250, False), ("joining", 250, True), ("joining", 60, False),
        ("settled", 250, False))  # fmt: skip
FALLING = 1.9
"""The boundary that falls with the root of the information, on plain signed roots."""

POINTS = 101
"""Points of the grid of `allot` here; levels come out to three digits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LookRow:
    """One rule in one cell: how often each word was said at least once in ten looks, in fleets.

    `median_look` is the median look of the first right word; 0 where most fleets never have one.
    """

    growth: str
    n: int
    late: bool
    shape: float
    ratio: float
    rule: str
    fleets: int
    failed: float
    supported: float
    contradicted: float
    either: float
    median_look: int


def every_cell() -> Iterator[LookCell]:
    """Yield the cells of the study."""
    for growth, n, late in WAYS:
        for shape in SHAPES:
            for ratio in RATIOS:
                yield LookCell(growth=growth, shape=shape, n=n, late=late, ratio=ratio)


def words_of(asked: Asked) -> dict[str, tuple[Array, Array]]:
    """Return, for each rule, (F, 10) whether each look says supported and contradicted."""
    deviate, drop = 1.6448536269514722, np.log(1.0 / ALPHA)
    levels = np.array([_levels(x) for x in asked.information])
    blind = np.array([_blind(j) for j in range(1, LOOKS + 1)])
    falling = FALLING / np.sqrt(asked.information / asked.information[:, -1:])

    def band(level: Array | float) -> tuple[Array, Array]:
        return asked.supported_p <= level, asked.contradicted_p <= level

    return {
        "each look alone": band(ALPHA),
        "each look alone, plain roots": (asked.root >= deviate, asked.root <= -deviate),
        "falling boundary, plain roots": (asked.root >= falling, asked.root <= -falling),
        "spending": band(levels),
        "spending, no history": band(blind[None, :]),
        "any number": (asked.any_supported >= drop, asked.any_contradicted >= drop),
    }


def _levels(information: Array) -> list[float]:
    given = allot(information.tolist(), LOOKS, alpha=ALPHA, points=POINTS)
    return [round_down(float(x)) for x in given.level]


def _blind(number: int) -> float:
    return round_down(float(allot(spread_evenly(number, LOOKS), LOOKS, alpha=ALPHA).level[-1]))


def rows_of(cell: LookCell, asked: Asked) -> list[LookRow]:
    """Return a row for every rule of one cell."""
    return [_row(cell, rule, *words, asked.n_failed[:, -1]) for rule, words in
            words_of(asked).items()]  # fmt: skip


def _row(cell: LookCell, rule: str, yes: Array, no: Array, failed: Array) -> LookRow:
    right = no if cell.ratio > 1.0 else yes
    first = np.where(right.any(axis=1), right.argmax(axis=1) + 1, LOOKS + 1)
    middle = int(np.median(first))
    return LookRow(
        growth=cell.growth, n=cell.n, late=cell.late, shape=cell.shape, ratio=cell.ratio, rule=rule,
        fleets=len(yes), failed=float(failed.mean()), supported=float(yes.any(axis=1).mean()),
        contradicted=float(no.any(axis=1).mean()),
        either=float((yes | no).any(axis=1).mean()), median_look=middle if middle <= LOOKS else 0,
    )  # fmt: skip


def asked_one_by_one(
    cell: LookCell, fleets: int, looks: LookKeys, *, seed: int, rule: str
) -> LookRow:
    """Ask `judge_claim` of each fleet at each look, with the history that it then has."""
    base = Settings(
        study=StudyKeys(seed=1), targets=TargetKeys(reliability=1.0 - ACCEPTED), looks=looks
    )
    yes, no = (np.zeros((fleets, LOOKS), dtype=bool) for _ in range(2))
    failed = np.zeros(fleets)
    for i, life in enumerate(cell.lives(fleets, seed=seed)):
        earlier: list[EarlierLook] = []
        for j in range(LOOKS):
            spells = spells_at(cell, life, j)
            now = information_of(spells, base, hours=CLAIM_H, target=1.0 - ACCEPTED)
            settings = join_looks(base, earlier, now)
            lives = Quoter.of(spells, try_fit(spells), settings)
            word = judge_claim(lives, CLAIM_H, 1.0 - ACCEPTED).word
            yes[i, j], no[i, j] = word == "supported", word == "contradicted"
            earlier.append(EarlierLook(number=j + 1, information=now))
            failed[i] = spells.n_failed
    return _row(cell, rule, yes, no, failed)


def by_number_of_looks(asked: Asked) -> list[tuple[float, ...]]:
    """Return for 1 to 10 looks at even steps of the plan how often a word was said by then.

    Columns: looks; supported, contradicted, either by the calibrated band; either by plain roots.
    """
    words = words_of(asked)
    yes, no = words["each look alone"]
    plain = np.logical_or(*words["each look alone, plain roots"])
    out = []
    for k in range(1, LOOKS + 1):
        at = np.unique(np.ceil(np.arange(1, k + 1) * LOOKS / k).astype(int) - 1)
        out.append(
            (float(k), *(float(x[:, at].any(axis=1).mean()) for x in (yes, no, yes | no, plain)))
        )
    return out


def run_study(
    fleets: int = FLEETS,
    *,
    seed: int = SEED,
    told: Callable[[str], None] = lambda _: None,
) -> tuple[list[LookRow], list[tuple[float, ...]]]:
    """Ask every cell; return its rows, and the table by number of looks of the first at its limit.

    Parameters
    ----------
    fleets : int
        Fleets a cell.
    seed : int
    told : callable
        Told each cell as it is done.
    """
    rows: list[LookRow] = []
    by_number: list[tuple[float, ...]] = []
    for cell in every_cell():
        answers = ask_fleets(cell, fleets, seed=seed)
        rows += rows_of(cell, answers)
        if not by_number and cell.shape == 2.5 and cell.ratio == 1.0:
            by_number = by_number_of_looks(answers)
        told(f"{cell.growth} {cell.n} {'late' if cell.late else 'new'} {cell.shape:g} {cell.ratio}")
    return rows, by_number


def judge_study(
    fleets: int, *, seed: int = SEED, told: Callable[[str], None] = lambda _: None
) -> list[LookRow]:
    """Ask the judge itself about fleets of three cells, look by look, alone and by a plan."""
    base = LookCell(growth="joining", shape=2.5, n=250, late=False, ratio=1.0)
    rows = []
    for cell in (base, replace(base, ratio=0.5), replace(base, n=60)):
        for rule, keys in (
            ("each look alone, as judged", LookKeys()),
            ("spending, as judged", LookKeys(planned=LOOKS)),
        ):
            rows.append(asked_one_by_one(cell, fleets, keys, seed=seed, rule=rule))
            told(f"judged: {cell.n} {cell.ratio} {rule}")
    return rows


def table_text(rows: list[LookRow], heading: str) -> str:
    """Return rows as CSV text under one comment line."""
    out = io.StringIO()
    out.write(f"# {heading}\n")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([f.name for f in fields(LookRow)])
    for row in rows:
        values = (getattr(row, f.name) for f in fields(LookRow))
        writer.writerow([f"{v:.4g}" if isinstance(v, float) else int(v) if isinstance(v, bool)
                         else v for v in values])  # fmt: skip
    return out.getvalue()


def page_text(rows: list[LookRow], by_number: list[tuple[float, ...]], heading: str) -> str:
    """Return the page of the study in Markdown."""
    out = [
        "# What do ten looks do to a claim?",
        "",
        heading,
        "",
        f"The claim is {CLAIM_H:,.0f} h at {100 * ACCEPTED:g} %. *Supported* said of a claim at "
        "its limit is wrong, and so is *contradicted*; each look is held to one-sided "
        f"{100 * ALPHA:g} % by itself, or all ten together are. Of a claim at half its limit "
        "*supported* is right, of one at twice it *contradicted* is. Shares are of fleets in which "
        "a word was said at one of the ten looks at least; their Monte Carlo error is 0.7 points "
        "at 5 %, 1 point at 88 %, at 1,000 fleets.",
        "",
        "## Looks without a plan",
        "",
        "250 engines join over 20 years, shape 2.5, the claim at its limit. So many looks, evenly "
        "spread over the 20 years, each taken by itself:",
        "",
        "| looks | supported % | contradicted % | one of the two % | one of the two by plain "
        "likelihood roots % |",
        "| --- | --- | --- | --- | --- |",
        *(f"| {k:g} | " + " | ".join(f"{100 * x:.1f}" for x in shares) + " |"
          for k, *shares in by_number),
    ]  # fmt: skip
    for growth, n, late, shape in dict.fromkeys((r.growth, r.n, r.late, r.shape) for r in rows):
        own = [r for r in rows if (r.growth, r.n, r.late, r.shape) == (growth, n, late, shape)]
        name = {"joining": "join over 20 years", "settled": "joined long ago, yearly looks"}[growth]
        out += [
            "",
            f"## {n} engines, {name}{', half heard of late' if late else ''}, shape {shape:g}",
            "",
            "| rule | fleets | at the limit: supported % | contradicted % | one of the two % | at "
            "half: supported % (median look) | at twice: contradicted % (median look) |",
            "| --- | --- | --- | --- | --- | --- | --- |",
        ]
        out += [_line(rule, [r for r in own if r.rule == rule]) for rule in
                dict.fromkeys(r.rule for r in own)]  # fmt: skip
    return "\n".join(out) + "\n"


def _line(rule: str, rows: list[LookRow]) -> str:
    at = {r.ratio: r for r in rows}
    one, half, twice = (at.get(x) for x in (1.0, 0.5, 2.0))
    cells = ["–"] * 3 if one is None else [
        f"{100 * x:.1f}" for x in (one.supported, one.contradicted, one.either)]  # fmt: skip
    for row, right in ((half, "supported"), (twice, "contradicted")):
        look = "" if row is None or not row.median_look else f" ({row.median_look})"
        cells.append("–" if row is None else f"{100 * getattr(row, right):.1f}{look}")
    return f"| {rule} | {rows[0].fleets} | " + " | ".join(cells) + " |"


def write_study(
    rows: list[LookRow], by_number: list[tuple[float, ...]], folder: Path, heading: str
) -> None:
    """Write ``looks.csv`` and ``looks.md`` into a folder, each whole or not at all."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in (
        ("looks.csv", table_text(rows, heading)),
        ("looks.md", page_text(rows, by_number, heading)),
    ):
        write_whole(folder / name, text)


def _tell(text: str) -> None:
    sys.stderr.write(text + "\n")
    sys.stderr.flush()


def main(arguments: list[str] | None = None) -> int:
    """Run the study from a command line."""
    parser = argparse.ArgumentParser(description="Measure what looks do to a claim.")
    parser.add_argument("--fleets", type=int, default=FLEETS, help="fleets a cell")
    parser.add_argument("--asked", type=int, default=0, help="fleets that are judged one by one")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--out", type=Path, default=Path("reports/calibration"))
    asked = parser.parse_args(arguments)
    rows, by_number = run_study(asked.fleets, seed=asked.seed, told=_tell)
    heading = f"Study of looks: {asked.fleets} fleets a cell, seed {asked.seed}."
    write_study(rows, by_number, asked.out, heading)
    if asked.asked:
        rows += judge_study(asked.asked, seed=asked.seed, told=_tell)
        heading = heading.replace(", seed", f", {asked.asked} judged one by one, seed")
        write_study(rows, by_number, asked.out, heading)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
