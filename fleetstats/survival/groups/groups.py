"""Groups of lives side by side: each group's own fit, and tests for one scale and one shape.

These tests say what the records can tell apart. They never permit pooling: a test that finds no
difference may only have too few failures. The verdict on pooling is in
`survival/groups/pooling.py`.
"""

from __future__ import annotations

from typing import ClassVar

import numpy as np

from fleetstats.core.errors import FitError, NoMaximum
from fleetstats.core.gate import gate, one_of
from fleetstats.core.value import Value, value
from fleetstats.spells import Spells
from fleetstats.survival.lives import LIVES
from fleetstats.survival.regression.accelerated import Problem, solve_accelerated
from fleetstats.survival.weibull.fit_weibull import fit_weibull
from fleetstats.vocabulary.capitals import small
from fleetstats.vocabulary.limits import FEW_FOR_SHAPE


@value
class GroupFit(Value):
    """One group: its evidence and its own Weibull fit, or why there is none.

    `common_scale_h` is its scale when all groups share one shape; None without failures.
    """

    name: str
    n: int
    n_failed: float
    exposure_h: float
    oldest_h: float
    shape: float | None
    scale_h: float | None
    log_likelihood: float | None
    common_scale_h: float | None
    reason: str = ""


@value
class RatioTest(Value):
    """A likelihood-ratio test: statistic, degrees of freedom, chi-square p-value."""

    what: str
    statistic: float
    df: int
    p_value: float
    note: str = ""


@value
class GroupComparison(Value):
    """All groups by one label. `tests` may be empty; `note` then says why."""

    _lines: ClassVar[str] = "groups"

    by: str
    groups: tuple[GroupFit, ...]
    common_shape: float | None
    tests: tuple[RatioTest, ...]
    note: str = ""

    def __repr__(self) -> str:
        lines = [f"{len(self.groups)} groups by {self.by}"]
        lines += [f"  {t.what}: {t.statistic:.2f} on {t.df}, p {t.p_value:.3f}" for t in self.tests]
        return "\n".join(lines + ([f"  {self.note}"] if self.note else []))


def split_groups(spells: Spells, by: str) -> dict[str, Spells]:
    """Return the spells of each label, in order of name; blanks are called "not given"."""
    if by not in ("build", "source"):
        raise FitError(f"Lives cannot be grouped by '{by}'.", "Use 'build' or 'source'.")
    labels = getattr(spells, by)
    names = np.unique(labels).tolist()
    return {(name or "not given"): spells.of_group(by, name) for name in names}


@gate(spells=LIVES, by=one_of("unit", "source", "build", "cause"))
def compare_groups(spells: Spells, by: str) -> GroupComparison:
    """Fit each group alone and with a common shape, and test for one shape and one scale.

    Parameters
    ----------
    spells : Spells
        Lives with the label.
    by : str
        Label that makes the groups, ``"build"`` or ``"source"``.

    Returns
    -------
    GroupComparison
        A line for each group, and the tests; `note` says why where there are none.

    Raises
    ------
    FitError
        If `by` is not a label of lives, or there is only one group.

    Notes
    -----
    With log-likelihoods L (own shape and scale), L1 (common shape, own scales) and L0 (one
    Weibull for all): shape 2(L - L1), scale 2(L1 - L0), each with one less degree of freedom than
    groups. Groups without failures add nothing to L1 (their scale runs away) and are left out of
    L; groups that have no maximum of their own are left out of the test of shape.

    References
    ----------
    .. [1] Lawless, J. F. (2003). Statistical Models and Methods for Lifetime Data, section 5.3.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, range(200, 1400, 100), [0, 1, 1] * 4, build=["A", "B"] * 6)
    >>> print(fs.compare_groups(lives, "build"))
    2 groups by build
      one shape: 0.14 on 1, p 0.712
      one scale, given one shape: 0.16 on 1, p 0.693
    """
    parts = split_groups(spells, by)
    if len(parts) < 2:
        raise FitError(f"There is one group by {by}.", "Nothing can be compared.")
    fits: dict[str, GroupFit] = {}
    for name, part in parts.items():
        shape = scale = value = None
        reason = ""
        try:
            fit = fit_weibull(part)
            shape, scale, value = fit.shape, fit.scale_h, fit.log_likelihood
        except FitError as error:
            reason = error.message
        fits[name] = GroupFit(
            name=name,
            n=round(float(part.weight.sum())),
            n_failed=part.n_failed,
            exposure_h=part.exposure_h,
            oldest_h=part.oldest_h,
            shape=shape,
            scale_h=scale,
            log_likelihood=value,
            common_scale_h=None,
            reason=reason,
        )
    failing = [name for name, part in parts.items() if part.n_failed > 0]
    try:
        shape, scales, common = _common_shape({n: parts[n] for n in failing})
        pooled = fit_weibull(spells).log_likelihood
    except FitError as error:
        return GroupComparison(
            by=by,
            groups=tuple(fits.values()),
            common_shape=None,
            tests=(),
            note=f"A common fit does not exist: {small(error.message)}",
        )
    groups = tuple(
        GroupFit(**{f: getattr(g, f) for f in _FIELDS} | {"common_scale_h": scales.get(name)})
        for name, g in fits.items()
    )
    tests = _tests(parts, fits, common, pooled)
    return GroupComparison(by=by, groups=groups, common_shape=shape, tests=tests)


_FIELDS = ("name", "n", "n_failed", "exposure_h", "oldest_h", "shape", "scale_h",
           "log_likelihood", "reason")  # fmt: skip


def _common_shape(parts: dict[str, Spells]) -> tuple[float, dict[str, float], float]:
    if not parts:
        raise NoMaximum("No group has failures.", reason="no-failures")
    names = list(parts)
    joined = parts[names[0]]
    label = [np.full(len(joined), 0)]
    for i, name in enumerate(names[1:], start=1):
        joined = joined.join(parts[name])
        label.append(np.full(len(parts[name]), i))
    codes = np.concatenate(label)
    design = np.column_stack(
        [np.ones(len(codes)), *((codes == i).astype(float) for i in range(1, len(names)))]
    )
    best = solve_accelerated(Problem.of(joined), design)
    logs = best.coef[0] + np.concatenate([[0.0], best.coef[1:]])
    if float(np.abs(logs).max()) > 500.0:
        raise NoMaximum("The common fit puts a scale out of all bounds.", "Assume a shape.")
    scales = {name: float(np.exp(v)) for name, v in zip(names, logs, strict=True)}
    return best.shape, scales, best.log_likelihood


def _tests(
    parts: dict[str, Spells], fits: dict[str, GroupFit], common: float, pooled: float
) -> tuple[RatioTest, ...]:
    few = [n for n, p in parts.items() if p.n_failed < FEW_FOR_SHAPE]
    note = f"approximate: fewer than {FEW_FOR_SHAPE} failures in {', '.join(few)}" if few else ""
    out = [_test("one scale, given one shape", 2.0 * (common - pooled), len(parts) - 1, note)]
    own = [n for n, g in fits.items() if g.log_likelihood is not None]
    if len(own) >= 2:
        shared = common if len(own) == sum(p.n_failed > 0 for p in parts.values()) else None
        if shared is None:
            shared = _common_shape({n: parts[n] for n in own})[2]
        full = sum(float(fits[n].log_likelihood or 0.0) for n in own)
        left = [n for n in parts if n not in own]
        words = f"without {', '.join(left)}, which have no fit of their own" if left else ""
        both = "; ".join(w for w in (note, words) if w)
        out.insert(0, _test("one shape", 2.0 * (full - shared), len(own) - 1, both))
    return tuple(out)


def _test(what: str, statistic: float, df: int, note: str) -> RatioTest:
    from scipy import special

    value = max(statistic, 0.0)
    return RatioTest(
        what=what, statistic=value, df=df, p_value=float(special.chdtrc(df, value)), note=note
    )
