"""Random streams: every draw comes from one seed, split by name.

A stream is named after what it is for, so that adding one analysis does not move the draws of
another, and results do not depend on the order or the number of workers.
"""

from __future__ import annotations

import hashlib

import numpy as np


def stream(seed: int, name: str, index: int = 0) -> np.random.Generator:
    """Return the generator for one named purpose.

    Parameters
    ----------
    seed : int
        The study's seed, printed in its report.
    name : str
        What the draws are for, such as ``"resample"``.
    index : int
        Number of a block within the purpose, so that blocks can be drawn in any order.
    """
    digest = hashlib.sha256(name.encode()).digest()
    words = [int.from_bytes(digest[i : i + 4], "little") for i in (0, 4, 8, 12)]
    return np.random.Generator(
        np.random.PCG64DXSM(np.random.SeedSequence([seed % 2**32, seed // 2**32, *words, index]))
    )
