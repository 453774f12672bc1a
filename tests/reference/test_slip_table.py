"""The slip table of the design notes (closed form): faults arise
uniformly between checks, the warning time is exponential with mean m, detection is 1 or 0.8.
"""

import numpy as np
import pytest

from fleetstats.survival.delay.delay import slip_share

TABLE = {
    25.0: {50: (21, 28), 100: (12, 16), 200: (6, 9), 500: (3, 4)},
    50.0: {50: (37, 45), 100: (21, 28), 200: (12, 16), 500: (5, 7)},
    100.0: {50: (57, 65), 100: (37, 45), 200: (21, 28), 500: (9, 13)},
}
ROUNDED_UP = {(25.0, 500, 1.0), (100.0, 50, 0.8)}
"""Two cells of that table are rounded up: the closed form gives 2.46 and 64.45 %."""


@pytest.mark.parametrize("every_h", TABLE)
def test_share_of_faults_that_become_failures(every_h):
    for mean, cells in TABLE[every_h].items():
        for detection, want in zip((1.0, 0.8), cells, strict=True):
            got = 100.0 * slip_share(every_h, float(mean), detection=detection)[0]
            if (every_h, mean, detection) in ROUNDED_UP:
                assert want - 1.0 < got < want
            else:
                assert round(got) == want


def test_the_closed_form_is_the_sum_over_checks():
    """Two roads: the exponential's closed form, and the sum over checks for shape 1 + 1e-9."""
    t = np.array([10.0, 50.0, 200.0])
    for detection in (0.3, 0.8, 1.0):
        a = slip_share(t, 120.0, detection=detection)
        b = slip_share(t, 120.0, shape=1.0 + 1e-9, detection=detection)
        assert a == pytest.approx(b, rel=1e-7)


def test_against_simulated_faults():
    rng = np.random.default_rng(11)
    n, every, mean, detection = 200_000, 50.0, 110.0, 0.7
    left = every * rng.random(n)
    delay = mean * rng.exponential(size=n)
    checks = rng.geometric(detection, n)
    found = left + (checks - 1) * every < delay
    want = slip_share(every, mean, detection=detection)[0]
    assert 1.0 - found.mean() == pytest.approx(want, abs=4 * np.sqrt(0.25 / n))
