"""A quadratic over increments y >= 0 that is a set of springs between points of their sums.

With levels ``x = cumulative sums of y`` each row pulls two levels to a distance: its matrix is that
of a chain of springs, banded where rows are short and sparse where they are not.
"""

from __future__ import annotations

import numpy as np

from fleetstats.core.value import Array, Floats, Value, value

RIDGE = 1e-10
"""Share of its own curvature by which an increment is held, so that the model is strictly concave;
at the answer it has no effect."""

MOST_BAND = 31
"""Widest band that is factored as one; a wider one is solved by conjugate gradients."""

FEW = 64
"""Increments up to which the matrix is factored whatever its band."""

BAND_WORK = 2e9
"""Points times band squared up to which it is factored where conjugate gradients do not settle."""


@value
class Springs(Value):
    """Rows from point `first` to point `past`, rising, of `stiff` and `pull`, over `k` increments.

    Parameters
    ----------
    first, past : (n,) int
        Points 0 to k; an increment j lies between points j and j + 1.
    stiff, pull : (n,) float
        The model is ``sum of pull S - stiff S^2 / 2`` with S the sum of increments of a row.
    k : int
        Increments.
    """

    first: Array
    past: Array
    stiff: Floats
    pull: Floats
    k: int

    @classmethod
    def of(cls, first: Array, past: Array, stiff: Array, pull: Array, k: int) -> Springs:
        """Return springs with rows of the same points merged."""
        key = first * (k + 1) + past
        if (k + 1) ** 2 <= 4 * len(key):
            some = np.flatnonzero(np.bincount(key, minlength=(k + 1) ** 2))
            n = (k + 1) ** 2
            one, two = (np.bincount(key, weights=x, minlength=n)[some] for x in (stiff, pull))
        else:
            some, inverse = np.unique(key, return_inverse=True)
            one, two = (np.bincount(inverse.ravel(), weights=x) for x in (stiff, pull))
        return cls(first=some // (k + 1), past=some % (k + 1), stiff=one, pull=two, k=k)

    def over(self, x: Array) -> Array:
        """Return, for each increment, the sum of `x` (n,) over the rows that cover it."""
        ends = np.bincount(self.first, weights=x, minlength=self.k + 1)
        ends -= np.bincount(self.past, weights=x, minlength=self.k + 1)
        return np.asarray(np.cumsum(ends, dtype=np.longdouble)[: self.k], dtype=np.float64)

    def sums(self, y: Array) -> Array:
        """Return, for each row, the sum of `y` (k,) over its increments."""
        level = np.concatenate([np.zeros(1, np.longdouble), np.cumsum(y, dtype=np.longdouble)])
        return np.asarray(level[self.past] - level[self.first], dtype=np.float64)


def within_bounds(springs: Springs, cost: Array, y: Array) -> Array:
    """Return the increments ``>= 0`` at which the springs, less `cost` times them, are greatest.

    By pivots in blocks, one at a time where blocks do not lead on (Judice & Pires 1994, Computers &
    Operations Research 21, 587-596).

    Parameters
    ----------
    springs : Springs
        The model.
    cost : (k,) float
        Price of each increment.
    y : (k,) float
        Where the model was made; the ridge holds there.
    """
    hold = RIDGE * springs.over(springs.stiff)
    push = springs.over(springs.pull) - cost + hold * y
    free = np.ones(springs.k, dtype=bool)
    fewest, patience = springs.k + 1, 3
    z = np.maximum(y, 0.0)
    # 1e-13 of what an increment's own curvature is worth is rounding.
    scale = np.sqrt(np.maximum(hold / RIDGE, 1e-300))
    for _ in range(60 + springs.k):
        z = np.zeros(springs.k)
        if free.any():
            z[free] = _solve(springs, hold, push, free)
        short = springs.over(springs.stiff * springs.sums(z)) + hold * z - push
        slack = 1e-13 * float(np.abs(push / scale).max())
        wrong = np.where(free, z < 0.0, short / scale < -slack)
        count = int(wrong.sum())
        if count == 0:
            break
        if count < fewest:
            fewest, patience = count, 3
        elif patience > 0:
            patience -= 1
        else:
            wrong = np.arange(springs.k) == np.flatnonzero(wrong)[-1]
        free = free ^ wrong
    return np.asarray(np.maximum(z, 0.0))


def _solve(springs: Springs, hold: Array, push: Array, free: Array) -> Array:
    """Return the increments at which the model is greatest with only the `free` ones above 0."""
    k = int(free.sum())
    place = np.concatenate([[0], np.cumsum(free)])
    first, past = place[springs.first], place[springs.past]
    keep = past > first
    first, past, stiff = first[keep], past[keep], springs.stiff[keep]
    # Levels 1 to k; level 0 is fixed. The ridge is a spring over one increment each.
    step = np.arange(k)
    first, past = np.concatenate([first, step]), np.concatenate([past, step + 1])
    stiff = np.concatenate([stiff, hold[free]])
    force = push[free] - np.concatenate([push[free][1:], [0.0]])
    band = int((past - first)[first > 0].max()) if np.any(first > 0) else 0
    diagonal = np.bincount(past, weights=stiff, minlength=k + 1)
    diagonal += np.bincount(first, weights=stiff, minlength=k + 1)
    if band > MOST_BAND and k > FEW:
        level, settled = _sparse(first, past, stiff, diagonal, force)
        if not settled and k * float(band) ** 2 <= BAND_WORK:
            level = _banded(first, past, stiff, diagonal, force)
    else:
        level = _banded(first, past, stiff, diagonal, force)
    return np.diff(level, prepend=0.0)


def _banded(first: Array, past: Array, stiff: Array, diagonal: Array, force: Array) -> Array:
    """Solve for levels 1 to k by factoring the band."""
    from scipy.linalg import solveh_banded

    k, inner = len(force), first > 0
    one, two, stiff = first[inner] - 1, past[inner] - 1, stiff[inner]
    band = int((two - one).max()) if len(one) else 0
    table = np.bincount((band - (two - one)) * k + two, weights=-stiff, minlength=(band + 1) * k)
    # Of no springs at all the counts are whole numbers.
    table = table.reshape(band + 1, k).astype(np.float64)
    table[band] = diagonal[1:]
    return np.asarray(solveh_banded(table, force, check_finite=False))


def _sparse(
    first: Array, past: Array, stiff: Array, diagonal: Array, force: Array
) -> tuple[Array, bool]:
    """Solve by conjugate gradients, guided by neighbours and the diagonal; and did they settle."""
    from scipy.linalg import cho_solve_banded, cholesky_banded
    from scipy.sparse import coo_array
    from scipy.sparse.linalg import LinearOperator, cg

    k = len(force)
    inner = first > 0
    one, two = first[inner] - 1, past[inner] - 1
    off = coo_array((-stiff[inner], (one, two)), shape=(k, k)).tocsr()
    both = (off + off.T).tocsr()

    def times(x: Array) -> Array:
        return np.asarray(diagonal[1:] * x + both @ x)

    next_door = np.zeros(k)
    near = inner & (past - first == 1)
    np.add.at(next_door, past[near] - 1, -stiff[near])
    chain = cholesky_banded(np.stack([next_door, diagonal[1:]]), check_finite=False)
    guide = LinearOperator((k, k), matvec=lambda x: cho_solve_banded((chain, False), x))
    matrix = LinearOperator((k, k), matvec=times)
    level, left = cg(matrix, force, rtol=1e-12, maxiter=2000, M=guide)
    return np.asarray(level), left == 0
