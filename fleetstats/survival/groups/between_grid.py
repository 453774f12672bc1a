"""The integrals behind the spread between sources: Gauss-Hermite inside, a grid outside."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fleetstats.core.value import Array
from fleetstats.spells import Spells

HERMITE = 9
"""Gauss-Hermite nodes per source, centred on its own conditional maximum."""

SEARCH_HERMITE = 4
"""Nodes while only the range of the grid is sought."""

SHAPES, MIDDLES, SPREADS = 13, 31, 16
"""Grid points of log shape, of the middle (in its own standard deviations) and of tau."""

_WIDE = 4.5  # grid of log shape, in standard deviations
_NEGLIGIBLE = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """One source's lives, hours in units of the oldest, ready for many evaluations."""

    n_failed: float
    sum_log: float  # of exact failures
    late: Array  # entry ages > 0 and their weights
    late_weight: Array
    whole: Array  # ends of spells other than interval failures
    whole_weight: Array
    lower: Array  # interval failures
    upper: Array
    between_weight: Array

    def power_sum(self, shape: float) -> float:
        """Return the sum of w (exit^shape - entry^shape), interval failures' exits left out."""
        out = float(self.whole_weight @ self.whole**shape)
        return out - float(self.late_weight @ self.late**shape) if len(self.late) else out

    def middle_sum(self, shape: float) -> float:
        """Return what interval failures add to `power_sum` if put at mid-interval."""
        if not len(self.upper):
            return 0.0
        return float(self.between_weight @ (0.5 * (self.lower + self.upper)) ** shape)

    def between(self, shape: float, x: Array) -> Array:
        """Return the log-likelihood of interval failures at log scales `x` (m,)."""
        out = np.zeros(len(x))
        for a, b, w in zip(self.lower, self.upper, self.between_weight, strict=True):
            scale = np.exp(-shape * x)
            low, rise = a**shape * scale, (b**shape - a**shape) * scale
            out += w * (-low + np.log(-np.expm1(-np.maximum(rise, 1e-300))))
        return out

    def log_likelihood(self, shape: float, x: Array) -> Array:
        """Return the log-likelihood at log scales `x`, hours in the unit, constants left out."""
        r_exact = self.n_failed - float(self.between_weight.sum())
        out = r_exact * (np.log(shape) - shape * x) + shape * self.sum_log
        with np.errstate(over="ignore"):
            out = out - self.power_sum(shape) * np.exp(-shape * x)
        if len(self.upper):
            out = out + self.between(shape, x)
        return np.asarray(out)

    def best_log_scale(self, shape: float) -> float | None:
        """Return the log scale that fits this source alone at one shape; None without failures."""
        if self.n_failed == 0:
            return None
        a = self.power_sum(shape) + self.middle_sum(shape)
        x = float(np.log(a / self.n_failed)) / shape
        if not len(self.upper):
            return x
        from scipy import optimize

        found = optimize.minimize_scalar(
            lambda v: -float(self.log_likelihood(shape, np.array([v]))[0]), bracket=(x - 0.1, x)
        )
        return float(found.x)


def prepare_source(spells: Spells, unit_h: float) -> Source:
    """Return the sums of one source's lives, hours divided by `unit_h`."""
    inside = spells.interval_known
    exact = spells.failed & ~inside
    late = spells.entry > 0
    return Source(
        n_failed=spells.n_failed,
        sum_log=float(spells.weight[exact] @ np.log(spells.exit_upper[exact] / unit_h)),
        late=spells.entry[late] / unit_h,
        late_weight=spells.weight[late],
        whole=spells.exit_upper[~inside] / unit_h,
        whole_weight=spells.weight[~inside],
        lower=spells.exit_lower[inside] / unit_h,
        upper=spells.exit_upper[inside] / unit_h,
        between_weight=spells.weight[inside],
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Posterior weights over cells of (log shape, middle, tau), and each source's nodes.

    `weight`, `log_shape`, `mu`, `tau` are (c,), `tau_measure` the quadrature weight that belongs
    to each cell's tau; `node` and `node_weight` are (s, c, q) with node
    weights that add up to 1 in each cell.
    """

    weight: Array
    log_shape: Array
    mu: Array
    tau: Array
    tau_measure: Array
    node: Array
    node_weight: Array

    def shape_quantile(self, at: Sequence[float]) -> Array:
        """Return posterior quantiles of log shape."""
        return self._marginal_quantile(self.log_shape, np.ones(1), at)

    def tau_quantile(self, at: Sequence[float]) -> Array:
        """Return posterior quantiles of tau."""
        return self._marginal_quantile(self.tau, self.tau_measure, at)

    def middle_quantile(self, at: Sequence[float]) -> Array:
        """Return posterior quantiles of the middle."""
        return weighted_quantile(self.mu, self.weight, at)

    def _marginal_quantile(self, value: Array, measure: Array, at: Sequence[float]) -> Array:
        """Quantiles from the density at the grid's few values, its log drawn as a smooth curve."""
        from scipy import interpolate

        nodes, place = np.unique(value, return_inverse=True)
        mass = np.bincount(place, weights=self.weight)
        width = np.broadcast_to(measure, (len(value),))
        density = mass / np.array([width[place == i][0] for i in range(len(nodes))])
        if len(nodes) < 4:
            return weighted_quantile(value, self.weight, at)
        fine = np.linspace(nodes[0], nodes[-1], 2001)
        curve = interpolate.PchipInterpolator(nodes, np.log(density))
        p = np.exp(curve(fine) - float(np.log(density.max())))
        total = np.concatenate([[0.0], np.cumsum(0.5 * (p[1:] + p[:-1]))])
        return np.asarray(np.interp(np.asarray(at), total / total[-1], fine))

    def source_quantile(self, i: int, at: Sequence[float]) -> Array:
        """Return posterior quantiles of the log scale of source `i`."""
        w = (self.weight[:, None] * self.node_weight[i]).ravel()
        return weighted_quantile(self.node[i].ravel(), w, at, smooth=True)

    def predictive_cdf(self, y: float, log_power: float) -> float:
        """P(x + log_power / shape <= y) for the log scale x of a new source."""
        from scipy import special

        place = self.mu + log_power * np.exp(-self.log_shape)
        return float(self.weight @ special.ndtr((y - place) / self.tau))

    def predictive_quantile(self, at: Sequence[float], log_power: float) -> Array:
        """Return quantiles of ``x + log_power / shape`` for a new source."""
        from scipy import optimize

        place = self.mu + log_power * np.exp(-self.log_shape)
        low = float((place - 9.0 * self.tau).min()) - 1.0
        high = float((place + 9.0 * self.tau).max()) + 1.0
        return np.array(
            [
                optimize.brentq(
                    lambda y, q=q: self.predictive_cdf(y, log_power) - q, low, high, xtol=1e-9
                )
                for q in at
            ]
        )

    def chance_quantile(self, at: Sequence[float], log_hours: float) -> Array:
        """Return quantiles of a new source's chance of failure by ``exp(log_hours)`` units.

        The hazard summed to t hours is ``(t / scale)^shape``, so that its chance is at most p where
        the life of share p is at least t: the distribution of `predictive_cdf`, read at an age.
        """
        from scipy import optimize, special

        shape = np.exp(self.log_shape)

        def cdf(y: float) -> float:
            """P(shape (log t - x) <= y) for the log scale x of a new source."""
            return float(self.weight @ special.ndtr((self.mu - log_hours + y / shape) / self.tau))

        place = shape * (log_hours - self.mu)
        low = float((place - 9.0 * shape * self.tau).min()) - 1.0
        high = float((place + 9.0 * shape * self.tau).max()) + 1.0
        hazard = [optimize.brentq(lambda y, q=q: cdf(y) - q, low, high, xtol=1e-9) for q in at]
        return np.asarray(-np.expm1(-np.exp(hazard)))


def weighted_quantile(
    value: Array, weight: Array, at: Sequence[float], *, smooth: bool = False
) -> Array:
    """Return quantiles of weighted points, interpolated between the middles of their weights.

    Equal points are merged first, unless `smooth` says that the points are all different.
    """
    keep = weight > 0
    v, w = value[keep], weight[keep]
    if not smooth:
        v, place = np.unique(v, return_inverse=True)
        w = np.bincount(place, weights=w)
    order = np.argsort(v)
    v, w = v[order], w[order]
    middle = (np.cumsum(w) - 0.5 * w) / w.sum()
    return np.asarray(np.interp(np.asarray(at), middle, v))


def integrate(sources: list[Source], *, prior_tau: float, prior_shape: tuple[float, float]) -> Grid:
    """Return the posterior over (log shape, middle, tau), with each source's scale integrated out.

    A first pass on a wide grid finds where the weight lies; the second looks there.
    """
    centre, width = _shape_range(sources, prior_shape)
    log_shape = centre + width * np.linspace(-1.0, 1.0, SHAPES)
    nodes, gauss = np.polynomial.legendre.leggauss(SPREADS)
    unit, gauss = 0.5 * (nodes + 1.0), 0.5 * gauss
    low, high = 0.0, 4.5 * prior_tau
    for _ in range(2):
        tau = low + (high - low) * unit
        out = _pass(sources, log_shape, tau, gauss, prior_tau, prior_shape, nodes=SEARCH_HERMITE)
        by_tau = np.array([out.weight[out.tau == t].sum() for t in tau]) / gauss
        seen = np.flatnonzero(by_tau > 1e-6 * by_tau.max())
        low = 0.0 if seen[0] == 0 else float(tau[seen[0] - 1])
        high = float(tau[seen[-1] + 1]) if seen[-1] + 1 < len(tau) else high
        by_shape = np.array([out.weight[out.log_shape == b].sum() for b in log_shape])
        mean = float(by_shape @ log_shape / by_shape.sum())
        sd = float(np.sqrt(by_shape @ (log_shape - mean) ** 2 / by_shape.sum()))
        log_shape = mean + _WIDE * max(sd, 1e-3) * np.linspace(-1.0, 1.0, SHAPES)
    tau = low + (high - low) * unit
    return _pass(sources, log_shape, tau, gauss, prior_tau, prior_shape)


def _shape_range(sources: list[Source], prior_shape: tuple[float, float]) -> tuple[float, float]:
    """Where to look for log shape at first: profile of the common shape with free scales."""
    grid = np.linspace(np.log(0.15), np.log(25.0), 80)
    failing = [s for s in sources if s.n_failed > 0]
    value = np.array([_common_profile(failing, float(np.exp(b))) for b in grid])
    value -= 0.5 * ((grid - np.log(prior_shape[0])) / prior_shape[1]) ** 2
    w = np.exp(value - value.max())
    mean = float(w @ grid / w.sum())
    sd = float(np.sqrt(w @ (grid - mean) ** 2 / w.sum()))
    return mean, _WIDE * max(sd, 0.05)


def _common_profile(sources: list[Source], shape: float) -> float:
    total = 0.0
    for s in sources:
        a = s.power_sum(shape) + s.middle_sum(shape)
        logs = s.sum_log
        if len(s.upper):
            logs += float(s.between_weight @ np.log(0.5 * (s.lower + s.upper)))
        total += s.n_failed * np.log(shape) + shape * logs - s.n_failed * np.log(a)
    return float(total)


def _pass(
    sources: list[Source],
    log_shape: Array,
    tau: Array,
    gauss: Array,
    prior_tau: float,
    prior_shape: tuple[float, float],
    *,
    nodes: int = HERMITE,
) -> Grid:
    shape = np.exp(log_shape)
    sums = np.array([[s.power_sum(b) for b in shape] for s in sources])
    rough = sums + np.array([[s.middle_sum(b) for b in shape] for s in sources])
    r = np.array([s.n_failed for s in sources])
    r_exact = r - np.array([float(s.between_weight.sum()) for s in sources])
    # Cells: shape (b), spread (t), middle (m); the middle's grid follows the likelihood.
    b, t = shape[:, None], tau[None, :]
    failing = r > 0
    alone = np.log(rough[failing] / r[failing, None]) / shape  # (f, b)
    own = 1.0 / (r[failing, None] * shape**2)
    pull = 1.0 / (own[:, :, None] + t[None] ** 2)  # (f, b, t)
    place = (pull * alone[:, :, None]).sum(axis=0) / pull.sum(axis=0)
    sd = np.sqrt(1.0 / pull.sum(axis=0))
    z = np.linspace(-6.0, 8.0, MIDDLES)  # longer to the right: no failures pull there only
    mu = place[:, :, None] + sd[:, :, None] * z  # (b, t, m)
    h_node, h_weight = np.polynomial.hermite.hermgauss(nodes)
    log_h = np.log(h_weight) + h_node**2
    total = np.zeros_like(mu)
    node = np.empty((len(sources), *mu.shape, nodes))
    share = np.empty_like(node)
    bb, tt = b[:, :, None], np.broadcast_to(t[:, :, None], (1, len(tau), 1))
    for i, s in enumerate(sources):
        mode, curve = _mode(r[i], rough[i][:, None, None], bb, mu, tt)
        step = np.sqrt(2.0 / curve)
        x = mode[..., None] + step[..., None] * h_node
        log_l = _log_likelihood(s, r_exact[i], sums[i], shape, x)
        log_l = log_l - 0.5 * ((x - mu[..., None]) / tt[..., None]) ** 2
        log_l = log_l + log_h - np.log(tt[..., None]) + np.log(step[..., None])
        top = log_l.max(axis=-1, keepdims=True)
        part = np.exp(log_l - top)
        area = part.sum(axis=-1, keepdims=True)
        total += (top + np.log(area))[..., 0]
        node[i] = x
        share[i] = part / area
    log_w = total - 0.5 * (tt / prior_tau) ** 2
    log_w = log_w - 0.5 * ((np.log(bb) - np.log(prior_shape[0])) / prior_shape[1]) ** 2
    log_w = log_w + np.log(sd)[..., None] + np.log(gauss)[None, :, None]
    w = np.exp(log_w - log_w.max())
    w /= w.sum()
    keep = w > _NEGLIGIBLE
    return Grid(
        weight=w[keep] / w[keep].sum(),
        log_shape=np.broadcast_to(log_shape[:, None, None], w.shape)[keep],
        mu=mu[keep],
        tau=np.broadcast_to(tau[None, :, None], w.shape)[keep],
        tau_measure=np.broadcast_to(gauss[None, :, None], w.shape)[keep],
        node=node[:, keep],
        node_weight=share[:, keep],
    )


def _log_likelihood(
    source: Source, n_exact: float, power_sums: Array, shape: Array, x: Array
) -> Array:
    """Return a source's log-likelihood at log scales `x` (b, t, m, nodes) for each shape (b,)."""
    from scipy import interpolate

    b4 = shape[:, None, None, None]
    log_l = n_exact * (np.log(b4) - b4 * x) + b4 * source.sum_log
    with np.errstate(over="ignore"):
        log_l = log_l - power_sums[:, None, None, None] * np.exp(-b4 * x)
    if len(source.upper):
        for k in range(len(shape)):
            ends = np.linspace(x[k].min(), x[k].max(), 400)
            spline = interpolate.CubicSpline(ends, source.between(float(shape[k]), ends))
            log_l[k] += spline(x[k])
    return np.asarray(log_l)


def _mode(r: float, a: Array, b: Array, mu: Array, tau: Array) -> tuple[Array, Array]:
    """Maximum over x of ``-r b x - a exp(-b x) - (x - mu)^2 / 2 tau^2`` and minus its curvature.

    The slope is convex and falls, so Newton passes the maximum once at most, to its left, and
    climbs from there without overshooting.
    """
    x = np.broadcast_to(mu, np.broadcast_shapes(mu.shape, b.shape)).copy()
    if r > 0:
        own, pull = r * b * b, 1.0 / tau**2
        x = (own * np.log(a / r) / b + pull * x) / (own + pull)
    for _ in range(40):
        pull = b * a * np.exp(-b * x)
        curve = b * pull + 1.0 / tau**2
        step = (pull - r * b - (x - mu) / tau**2) / curve
        x += step
        if float(np.abs(step).max()) < 1e-4:  # it only places the nodes
            break
    return x, b * b * a * np.exp(-b * x) + 1.0 / tau**2
