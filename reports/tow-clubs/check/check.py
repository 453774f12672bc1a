"""Work out the figures of a report again from its table of lives, and say which agree.

    python check.py [FOLDER]

FOLDER holds ``lives.csv`` and ``check/answers.csv``; without it, the folder above this script. It
needs Python 3.10 or later and numpy, and nothing of the program that made the report. Exit code 0:
all agree; 1: one does not, or is missing; 2: the files cannot be read.

A life is at risk at hours t when entry < t <= exit. A failure known only between two checks has
exit_low_h < exit_high_h; where it must be counted at an age, it is counted at the middle.
"""

from __future__ import annotations

import csv
import math
import sys
from collections.abc import Callable
from pathlib import Path
from statistics import NormalDist
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
NEEDED = ("lives", "failures", "hours", "oldest_h", "horizon_h", "start_h")
FIT = ("shape", "scale_h", "log_likelihood", "life_h")
LIMITS = tuple(f"{k}.{side}" for k in ("shape", "scale_h", "life_h") for side in ("low", "high"))
TOLERANCE = {
    "count": 1e-9, "product-limit": 1e-9, "assumed-shape": 1e-9, "engines-counted": 1e-9,
    "weibull": 1e-6,  # maxima and crossings found by search
    "profile": 1e-6,
    "open-shapes": 1e-8,  # hours powered by each shape are summed in another way there
}  # fmt: skip
LEAST_SHAPE, GREATEST_SHAPE = 0.05, 60.0
FARTHEST = 1000.0  # a limit past so many times the oldest age is none


class LifeRows(NamedTuple):
    """Columns of the lives that count: ages in hours, endings as booleans, weights."""

    engine: list[str]
    entry: Floats
    low: Floats
    high: Floats
    failed: NDArray[np.bool_]
    competing: NDArray[np.bool_]
    weight: Floats

    @property
    def end(self) -> Floats:
        """Return ages at the end; the middle for a failure between two checks."""
        return 0.5 * (self.low + self.high)

    @property
    def between(self) -> NDArray[np.bool_]:
        """Return which failures are known only between two checks."""
        return np.asarray(self.failed & (self.low < self.high))


class CannotCheck(Exception):
    """A file that cannot be read, with where and why."""


# ---------------------------------------------------------------- reading


def find_folder(asked: list[str]) -> Path:
    """Return the folder that holds the table of lives."""
    here = Path(__file__).resolve().parent
    tried = [Path(asked[0]), Path(asked[0]) / "report"] if asked else [here.parent, here, Path()]
    for folder in tried:
        if (folder / "lives.csv").is_file():
            return folder
    places = ", ".join(str(f) for f in tried)
    raise CannotCheck(f"no lives.csv in {places}; name the folder of the report")


def rows_of(path: Path) -> list[dict[str, str]]:
    """Return the rows of a CSV by their columns."""
    try:
        with path.open(encoding="utf-8-sig", newline="") as f:
            return list(csv.DictReader(f))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise CannotCheck(f"{path.name} cannot be read: {error}") from error


def number(path: str, line: int, row: dict[str, str], column: str) -> float:
    """Return a cell as a finite number."""
    text = row.get(column)
    try:
        x = float(text or "")
    except ValueError:
        x = math.nan
    if not math.isfinite(x):
        raise CannotCheck(f"{path}, row {line}, column {column}: '{text}' is no number")
    return x


def read_lives(path: Path) -> tuple[LifeRows, int]:
    """Return the lives that count, and how many rows do not."""
    rows = rows_of(path)
    used = [(i, r) for i, r in enumerate(rows, 2) if (r.get("use") or "").startswith("counted")]
    columns = ("entry_h", "exit_low_h", "exit_high_h", "weight")
    cells = [[number(path.name, i, r, c) for c in columns] for i, r in used]
    table = np.array(cells, dtype=np.float64).reshape(-1, 4)
    events = [(r.get("event") or "") for _, r in used]
    for (i, _), event, (entry, low, high, weight) in zip(used, events, table, strict=True):
        if event not in ("failed", "running", "removed", "competing"):
            raise CannotCheck(f"{path.name}, row {i}, column event: '{event}' is none of the four")
        if not (0 <= entry <= low <= high and entry < high and weight > 0):
            raise CannotCheck(f"{path.name}, row {i}: hours out of order, or no weight")
        if event != "failed" and low < high:
            raise CannotCheck(f"{path.name}, row {i}: only a failure may lie between two ages")
    lives = LifeRows(
        [r.get("engine") or "" for _, r in used], table[:, 0], table[:, 1], table[:, 2],
        np.array([e == "failed" for e in events], dtype=bool),
        np.array([e == "competing" for e in events], dtype=bool), table[:, 3],
    )  # fmt: skip
    return lives, len(rows) - len(used)


# ---------------------------------------------------------------- counting


def up_to(ages: Floats, weight: Floats, t: float, *, below: bool = False) -> float:
    """Return the weight of ages up to t, or below it."""
    return float(weight[ages < t].sum() if below else weight[ages <= t].sum())


def at_risk(d: LifeRows, end: Floats, t: float) -> float:
    """Return the lives with entry < t <= end."""
    return up_to(d.entry, d.weight, t, below=True) - up_to(end, d.weight, t, below=True)


def count(d: LifeRows, given: dict[str, float]) -> dict[str, float]:
    """Return the counts."""
    most: dict[str, float] = {}
    for name, w in zip(d.engine, d.weight, strict=True):
        most[name] = max(most.get(name, 0.0), float(w))
    ends = [t for t in np.unique(d.high) if at_risk(d, d.high, t) >= given["least_at_risk"]]
    out = {
        "engines": sum(most.values()),
        "lives": float(d.weight.sum()),
        "failures": float(d.weight[d.failed].sum()),
        "failures_between": float(d.weight[d.between].sum()),
        "competing": float(d.weight[d.competing].sum()),
        "hours": float((d.weight * (d.end - d.entry)).sum()),
        "oldest_h": float(d.high.max()),
        "horizon_h": float(ends[-1]) if ends else 0.0,
    }
    claim = given.get("claimed_h")
    if claim is not None:
        past = np.maximum(d.low - np.maximum(d.entry, claim), 0.0)
        out["reached"] = at_risk(d, d.high, claim)
        out["hours_past"] = float((d.weight * past).sum())
    return out


def curve_start(d: LifeRows, least: float) -> float:
    """Return the first entry age just after which enough lives were at risk."""
    for t in np.unique(d.entry):
        inside = up_to(d.entry, d.weight, t) - up_to(d.end, d.weight, t)
        if inside >= least * (1.0 - 1e-12):
            return float(t)
    return float(d.entry.min())


def product_limit(d: LifeRows, start: float, hours: float) -> tuple[float, float]:
    """Return the share that reaches an age, and the cumulative hazard (Kaplan-Meier, Nelson)."""
    share, hazard = 1.0, 0.0
    for t in np.unique(d.end[d.failed]):
        if start < t <= hours:
            n = at_risk(d, d.end, t)
            f = float(d.weight[d.failed & (d.end == t)].sum())
            share *= 0.0 if n - f < 1e-9 * n else (n - f) / n
            hazard += f / n
    return share, hazard


# ---------------------------------------------------------------- tails of laws


def gamma_tail(a: float, x: Floats) -> Floats:
    """Return the regularised lower incomplete gamma function by its series."""
    term = np.full_like(x, 1.0 / a)
    total, n = term.copy(), a
    while np.any(term > 1e-17 * total):
        n += 1.0
        term = term * x / n
        total = total + term
    return np.asarray(total * np.exp(a * np.log(x) - x - math.lgamma(a)))


def poisson_high(r: float, z: Floats) -> Floats:
    """Return upper bounds of a Poisson mean after r events, at normal deviates z >= 0."""
    a = r + 1.0
    level = np.array([NormalDist().cdf(float(v)) for v in z])
    m = a * np.maximum(1.0 - 1.0 / (9.0 * a) + z / (3.0 * math.sqrt(a)), 0.1) ** 3
    for _ in range(60):
        slope = np.exp((a - 1.0) * np.log(m) - m - math.lgamma(a))
        before = m
        m = np.clip(m - (gamma_tail(a, m) - level) / slope, 0.2 * m, 5.0 * m)
        if np.all(np.abs(m - before) < 1e-13 * m):
            break
    return m


def beta_tail(a: float, b: float, x: float) -> float:
    """Return the regularised incomplete beta function by its continued fraction (Lentz)."""
    if x > (a + 1.0) / (a + b + 2.0):
        return 1.0 - beta_tail(b, a, 1.0 - x)
    front = math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b)
    front += a * math.log(x) + b * math.log1p(-x)
    c, d = 1.0, 1.0 / (1.0 - (a + b) * x / (a + 1.0))
    out = d
    for m in range(1, 2000):
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        before = out
        for k in (even, odd):
            d = 1.0 / (1.0 + k * d)
            c = 1.0 + k / c
            out *= c * d
        if abs(out - before) < 1e-16 * abs(out):
            break
    return math.exp(front) * out / a


def between_roots(f: Callable[[float], float], low: float, high: float) -> float:
    """Return where f changes its sign between two ages, by halving."""
    sign = f(low) > 0
    for _ in range(200):
        middle = 0.5 * (low + high)
        if middle in (low, high):
            break
        low, high = (middle, high) if (f(middle) > 0) == sign else (low, middle)
    return 0.5 * (low + high)


# ---------------------------------------------------------------- Weibull


def log_likelihood(d: LifeRows, log_shape: float, log_scale: float) -> float:
    """Return the log likelihood row by row: densities, survivals, intervals, entry divided out."""
    b, scale = math.exp(log_shape), math.exp(log_scale)
    with np.errstate(all="ignore"):
        start, low, high = ((x / scale) ** b for x in (d.entry, d.low, d.high))
        known = log_shape - log_scale + (b - 1.0) * (np.log(d.high) - log_scale)
        gap = np.log(-np.expm1(-(high - low)))
        rows = start - low + np.where(d.between, gap, np.where(d.failed, known, 0.0))
        total = float((d.weight * rows).sum())
    return total if math.isfinite(total) else -1e300


def peak(f: Callable[[float], float], low: float, high: float) -> tuple[float, float]:
    """Return the place and height of the top of f: a grid, golden section, then a parabola."""
    grid = np.linspace(low, high, 41)
    best = int(np.argmax([f(float(x)) for x in grid]))
    a, b = float(grid[max(best - 1, 0)]), float(grid[min(best + 1, 40)])
    ratio = 0.5 * (math.sqrt(5.0) - 1.0)
    x, y = b - ratio * (b - a), a + ratio * (b - a)
    fx, fy = f(x), f(y)
    while b - a > 2e-5:
        if fx > fy:
            b, y, fy = y, x, fx
            x = b - ratio * (b - a)
            fx = f(x)
        else:
            a, x, fx = x, y, fy
            y = a + ratio * (b - a)
            fy = f(y)
    m, h = 0.5 * (a + b), 1e-4
    left, top, right = f(m - h), f(m), f(m + h)
    bend = left - 2.0 * top + right
    at = m + 0.5 * h * (left - right) / bend if bend < 0 else m
    at = min(max(at, low), high)
    return at, max(top, f(at))


class Weibull:
    """The maximum of the likelihood, and profiles about it."""

    def __init__(self, d: LifeRows, share: float) -> None:
        self.d, self.oldest = d, float(d.high.max())
        self.fall = math.log(-math.log(share))  # log cumulative hazard at the life
        self.theta, self.top = peak(lambda t: self.over_scale(t)[1], *self._shapes())
        self.log_scale = self.over_scale(self.theta)[0]

    @staticmethod
    def _shapes() -> tuple[float, float]:
        return math.log(LEAST_SHAPE), math.log(GREATEST_SHAPE)

    def over_scale(self, theta: float) -> tuple[float, float]:
        """Return the best log scale for a shape and the height there."""
        b, ref = math.exp(theta), math.log(self.oldest)
        x, height = peak(
            lambda v: log_likelihood(self.d, theta, ref - v / b), -25.0, 8.0
        )  # v: log cumulative hazard by the oldest age
        return ref - x / b, height

    def over_shape(self, log_age: float, level: float) -> float:
        """Return the height over all shapes with cumulative hazard exp(level) at an age."""
        return peak(
            lambda t: log_likelihood(self.d, t, log_age - level / math.exp(t)), *self._shapes()
        )[1]

    def figures(self) -> dict[str, float]:
        """Return the estimates."""
        shape = math.exp(self.theta)
        return {
            "shape": shape, "scale_h": math.exp(self.log_scale), "log_likelihood": self.top,
            "life_h": math.exp(self.log_scale + self.fall / shape),
        }  # fmt: skip

    def limit(self, key: str, side: str, two_sided: float) -> float | None:
        """Return a profile limit; None where the likelihood does not fall far enough."""
        drop = 0.5 * NormalDist().inv_cdf(0.5 * (1.0 + two_sided)) ** 2
        if key == "shape":
            best, (least, most) = self.theta, self._shapes()
        else:
            best = math.log(self.figures()[key])
            least, most = best - 40.0, math.log(FARTHEST * self.oldest)

        def above(x: float) -> float:
            level = self.fall if key == "life_h" else 0.0
            height = self.over_scale(x)[1] if key == "shape" else self.over_shape(x, level)
            return height - (self.top - drop)

        sign, end = (-1.0, least) if side == "low" else (1.0, most)
        near, step = best, 0.1
        while sign * (end - near) > 0:
            far = near + sign * min(step, abs(end - near))
            if above(far) < 0:
                return math.exp(between_roots(above, near, far))
            near, step = far, 2.0 * step
        return None


# ---------------------------------------------------------------- bounds for few failures


def equivalents(d: LifeRows, shape: float, hours: float) -> float:
    """Return the whole lives to some hours that the lives are worth at a shape."""
    return float((d.weight * ((d.low / hours) ** shape - (d.entry / hours) ** shape)).sum())


def assumed(d: LifeRows, shape: float, given: dict[str, float]) -> float:
    """Return the upper bound of failure by the claim for an assumed shape."""
    z = np.array([NormalDist().inv_cdf(given["one_sided"])])
    m = float(poisson_high(float(d.weight[d.failed].sum()), z)[0])
    n = equivalents(d, shape, given["claimed_h"])
    return 1.0 if n == 0 else -math.expm1(-m / n)


def settled(d: LifeRows, given: dict[str, float]) -> tuple[float, float]:
    """Return lives that settle the claim, and the upper bound from them (Clopper-Pearson).

    On the way to the claim each age was passed by some lives only; the least number counts.
    """
    claim, failed = given["claimed_h"], d.failed
    dead = up_to(d.low[failed], d.weight[failed], claim)
    ages = np.unique(np.concatenate([d.low, d.entry]))
    passed = math.inf
    for t in [*ages[(ages > 0) & (ages < claim)], claim]:
        here = float(d.weight[failed & (d.low == t)].sum())
        passed = min(passed, at_risk(d, d.low, t) - here)
    if passed <= 0:
        return dead, 1.0
    c = given["one_sided"]
    x = between_roots(lambda p: beta_tail(dead + 1.0, passed, p) - c, 1e-15, 1.0 - 1e-15)
    return passed + dead, x


class OpenBounds:
    """Bounds over all shapes that the records leave open.

    Each shape b may use what its deviance against the best shape, with a penalty outside the stated
    range, leaves of c z^2: its Poisson bound stands at that deviate. The worst counts; at an age,
    also that with any number of the youngest failures up to it taken as running.
    """

    def __init__(self, d: LifeRows, given: dict[str, float], z: float) -> None:
        self.ref = float(d.high.max())
        low, high = math.log(given["shape_from"]), math.log(given["shape_to"])
        span = given["tried_from"], given["tried_to"]
        self.theta = np.union1d(
            np.linspace(*span, int(given["tried"])), np.clip([low, high], *span)
        )
        worth = [equivalents(d, b, self.ref) for b in np.exp(self.theta)]
        power = np.log(np.maximum(worth, 1e-300))
        order = np.argsort(d.end[d.failed], kind="stable")
        age, seen, w = (x[d.failed][order] for x in (d.end, d.low, d.weight))
        past = np.maximum(low - self.theta, 0.0) + np.maximum(self.theta - high, 0.0)
        self.rates, self.since, away = [], [], 0
        while True:
            r = float(w[away:].sum()) if away < len(w) else 0.0
            logs = float((w[away:] * np.log(age[away:] / self.ref)).sum())
            like = r * (self.theta - power) + logs * np.exp(self.theta)
            deviance = (past / 0.35) ** 2 / (1.0 + 2.0 * r) - 2.0 * like
            left = (1.0 + 5.0 * r / (r + 8.0) ** 2) * z**2 - (deviance - deviance.min())
            rate, may = np.full(len(power), -np.inf), left >= 0
            rate[may] = np.log(poisson_high(r, np.sqrt(left[may]))) - power[may]
            self.rates.append(rate)
            self.since.append(float(seen[:away].max()) if away else 0.0)
            if away == len(w):
                break
            # one by one up to 40, then in steps that grow by a fifth
            away = min(len(w), away + 1 if away < 40 else max(away + 1, int(1.2 * away)))

    def failure_high(self, hours: float) -> float:
        """Return the upper bound of failure by some hours."""
        rows = [r for r, since in zip(self.rates, self.since, strict=True) if since <= hours]
        worst = np.max(rows, axis=0) + np.exp(self.theta) * math.log(hours / self.ref)
        return -math.expm1(-math.exp(min(float(worst.max()), 700.0)))

    def life_low(self, p: float) -> float:
        """Return the hours by which, by the bound, at most a share p fails."""
        return between_roots(lambda t: self.failure_high(t) - p, 1e-6, 100.0 * self.ref)


# ---------------------------------------------------------------- the table


def figures_here(d: LifeRows, given: dict[str, float], asked: list[str]) -> dict[str, float | None]:
    """Return what this script makes of the figures asked for; those it does not know are left out.

    None where there is no such figure.
    """
    start = curve_start(d, given["start_at_risk"])
    out: dict[str, float | None] = {**count(d, given), "start_h": start}
    fit = None
    if any(k in FIT or k in LIMITS for k in asked):
        fit = Weibull(d, given["life_share"])
        out.update(fit.figures())
    z = NormalDist().inv_cdf(given.get("one_sided", 0.5 * (1.0 + given["two_sided"])))
    shapes = OpenBounds(d, given, z) if "tried" in given else None
    for key in asked:
        name, _, at = key.partition("@")
        if name in ("product_limit", "cumulative_hazard"):
            out[key] = product_limit(d, start, float(at))[name == "cumulative_hazard"]
        elif key in LIMITS and fit is not None:
            quantity, _, side = key.partition(".")
            out[key] = fit.limit(quantity, side, given["two_sided"])
        elif key == "quoted_life_low" and shapes is not None:
            out[key] = shapes.life_low(1.0 - given["life_share"])
    if "claimed_h" in given:
        claim = given["claimed_h"]
        listed = [float(k.partition("@")[2]) for k in asked if k.startswith("equivalents@")]
        for b in listed:
            out[f"equivalents@{b!r}"] = equivalents(d, b, claim)
            out[f"failure_high@{b!r}"] = assumed(d, b, given)
        if listed:
            ends = math.log(min(listed)), math.log(max(listed))
            between = {*listed, *(math.exp(x) for x in np.linspace(*ends, 61))}
            out["failure_high_any"] = max(assumed(d, b, given) for b in between)
        out["settled"], out["failure_high_counted"] = settled(d, given)
        if shapes is not None:
            out["failure_high_open"] = shapes.failure_high(claim)
    return out


def read_answers(path: Path) -> tuple[dict[str, float], dict[str, dict[str, str]]]:
    """Return what was given, and the figures to agree with, by their keys."""
    given: dict[str, float] = {}
    told: dict[str, dict[str, str]] = {}
    for i, row in enumerate(rows_of(path), 2):
        key = row.get("key") or ""
        if not key or key in given or key in told:
            raise CannotCheck(f"{path.name}, row {i}, column key: '{key}' is blank or stands twice")
        if row.get("rule") == "given":
            given[key] = number(path.name, i, row, "value")
        else:
            if row.get("value"):
                number(path.name, i, row, "value")
            told[key] = row
    for key in ("two_sided", "least_at_risk", "start_at_risk", "life_share", "shape_from",
                "shape_to", *(("one_sided",) if "claimed_h" in given else ()),
                *(("tried_from", "tried_to") if "tried" in given else ())):  # fmt: skip
        if key not in given:
            raise CannotCheck(f"{path.name}: no row '{key}' with the rule 'given'")
    return given, told


def rule_of(key: str) -> str:
    """Return the rule by which this script comes to a figure; blank where it has none."""
    name = key.partition("@")[0]
    if key in LIMITS:
        return "profile"
    if key in FIT:
        return "weibull"
    if name in ("product_limit", "cumulative_hazard", "start_h"):
        return "product-limit"
    if key in ("settled", "failure_high_counted"):
        return "engines-counted"
    if name in ("equivalents", "failure_high", "failure_high_any"):
        return "assumed-shape"
    if key == "failure_high_open":
        return "open-shapes"
    counts = (*NEEDED, "engines", "failures_between", "competing", "reached", "hours_past")
    return "count" if key in counts else ""


def agree(told: float | None, here: float | None, rule: str) -> bool:
    """Return whether two figures agree, or both are none."""
    if told is None or here is None:
        return told is here
    return abs(told - here) <= TOLERANCE[rule] * max(abs(told), abs(here), 1e-6)


def compare(d: LifeRows, given: dict[str, float], told: dict[str, dict[str, str]]) -> list[str]:
    """Print the table of agreement; return what does not agree, and what is missing."""
    here = figures_here(d, given, list(told))
    same = {"open-shapes": "failure_high_open", "engines-counted": "failure_high_counted"}
    wrong, left = [k for k in NEEDED if k not in told], []
    if here.get("failures") and "shape" not in told and "no_fit" not in told:
        wrong.append("shape")
    say(f"{'figure':<58} {'report':>16} {'here':>16} {'difference':>11}  agrees")
    for key, row in told.items():
        label, rule = row.get("label") or key, row.get("rule") or ""
        quoted, known = key.startswith("quoted_"), rule_of(key)
        if rule == "not-checked" and not known:
            left.append(label)
            continue
        if key == "quoted_failure_high":
            here[key] = here.get(same.get(rule, ""))
        x = float(row["value"]) if row.get("value") else None
        y = here.get(key)
        ok = key in here and rule == (known or (rule if quoted else "")) and rule in TOLERANCE
        ok = ok and agree(x, y, rule)
        gap = f"{y - x:.2g}" if x is not None and y is not None else ""
        say(f"{label[:58]:<58} {show(x):>16} {show(y):>16} {gap:>11}  {'yes' if ok else 'NO'}")
        wrong += [] if ok else [key]
    say("")
    for label in left:
        say(f"Not checked here: {label}.")
    return wrong


def show(x: float | None) -> str:
    """Return a figure as text."""
    return "none" if x is None else f"{x:.9g}"


def say(line: str) -> None:
    """Print a line, without what a terminal might take for an order."""
    sys.stdout.write("".join(c if c.isprintable() else "?" for c in line) + "\n")


def main(asked: list[str]) -> int:
    """Check one folder; return the exit code."""
    try:
        folder = find_folder(asked)
        lives, other = read_lives(folder / "lives.csv")
        given, told = read_answers(folder / "check" / "answers.csv")
    except CannotCheck as error:
        say(f"Cannot check: {error}.")
        return 2
    if not len(lives.weight):
        say("No row of lives.csv counts, so there is nothing to check.")
        return 1 if told else 0
    say(f"lives.csv: {len(lives.weight)} rows count, {other} do not.")
    if not lives.failed.any():
        say("Nothing failed, so there is no fit to check; the bounds for few failures are below.")
    wrong = compare(lives, given, told)
    if wrong:
        say(f"DOES NOT AGREE: {', '.join(wrong)}.")
        return 1
    say("All figures above agree.")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
