"""Made-up fleets: each truth has the chance it is scaled to, and the design is that in hand.

Known answers are by hand unless a comment says otherwise.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fleetstats.core.errors import SpellError
from fleetstats.core.seeds import stream
from fleetstats.spells import Spells
from fleetstats.survival.simulated import laws
from fleetstats.survival.simulated.draw import draw_ages, draw_fleet
from fleetstats.survival.simulated.recording import as_told
from fleetstats.survival.simulated.truths import RISEN, TRUTHS, mean_chance, scale_to
from fleetstats.survival.simulated.watch import Watch, watch_of

CLAIM, ACCEPTED, N = 1000.0, 0.1, 20_000
BY_KEY = {t.key: t for t in TRUTHS}
LAWS = (laws.weibull, laws.lognormal, laws.log_logistic, laws.weak_share, laws.bathtub)


def many(entry: float = 0.0, stop: float = 5 * CLAIM) -> Watch:
    """Return a design of many engines, each its own batch and source, watched past the claim."""
    names = np.array([f"n{i}" for i in range(N)])
    lives = Spells.of(entry, np.full(N, stop), np.zeros(N), source=names, build=names)
    return watch_of(lives, np.zeros(N))


@pytest.mark.parametrize("truth", TRUTHS, ids=lambda t: t.key)
def test_a_new_engine_fails_by_the_claim_with_the_chance_asked(truth) -> None:
    # lives as they went: what is written down of them is another matter
    told = replace(truth, recording=as_told, clock=1.0)
    scaled = scale_to(told, ACCEPTED, CLAIM, 2.5)
    fleet = draw_fleet(many(), told, scaled, stream(1, truth.key))
    share = float((fleet.failed & (fleet.exit_upper <= CLAIM)).mean())
    # four standard errors of a share of 10 % among 20,000
    assert share == pytest.approx(ACCEPTED, abs=4 * np.sqrt(0.09 / N))


@pytest.mark.parametrize("law", LAWS, ids=lambda f: f.__name__)
@pytest.mark.parametrize(("p", "shape"), [(0.02, 0.8), (0.1, 2.5), (0.3, 4.0)])
def test_a_law_is_scaled_and_inverted_as_a_plain_root_does(law, p: float, shape: float) -> None:
    from scipy.optimize import brentq

    hazard = -np.log1p(-p)
    assert law(np.array([1.0]), hazard, shape)[0] == pytest.approx(hazard, rel=1e-9)
    x = np.geomspace(0.01, 4.0, 60)
    assert (np.diff(law(x, hazard, shape)) > 0).all()
    wanted = np.array([0.02 * hazard, 0.5 * hazard, hazard, 3.0 * hazard])
    slow = [
        brentq(lambda z, h=h: law(np.array([np.exp(z)]), hazard, shape)[0] - h, -17, 11)
        for h in wanted
    ]
    # the grid's step in log age is 0.0075, and interpolation errs by its square
    assert laws.ages_at(law, wanted, hazard, shape) == pytest.approx(np.exp(slow), rel=1e-4)


def test_engines_heard_of_late_are_given_their_life_so_far() -> None:
    scaled = scale_to(BY_KEY["bathtub"], ACCEPTED, CLAIM, 2.5)
    fleet = draw_fleet(many(500.0), BY_KEY["bathtub"], scaled, stream(2, "late"))
    assert (fleet.exit_upper > 500.0).all()
    at = laws.bathtub(np.array([0.5, 1.0]), scaled.hazard, scaled.shape)
    p = -np.expm1(at[0] - at[1])
    share = float((fleet.failed & (fleet.exit_upper <= CLAIM)).mean())
    assert share == pytest.approx(p, abs=4 * np.sqrt(p * (1 - p) / N))


def test_a_hazard_that_rose_was_less_before() -> None:
    truth = BY_KEY["risen"]
    scaled = scale_to(truth, ACCEPTED, CLAIM, 2.0)
    rng = stream(3, "risen")
    zero, one = np.zeros(N), np.ones(N)
    age = draw_ages(truth, scaled, zero, np.full(N, 800.0), one, rng)
    # by hand: H is 0.64 h by 800 h, over 1.5 before it rose, and h - 0.64 h more by 1,000 h
    h = -np.log(0.9)
    for hours, hazard in (
        (400.0, 0.16 * h / RISEN),
        (800.0, 0.64 * h / RISEN),
        (1000.0, 0.64 * h / RISEN + 0.36 * h),
    ):
        p = -np.expm1(-hazard)
        assert float((age <= hours).mean()) == pytest.approx(p, abs=4 * np.sqrt(p / N))
    # heard of at 900 h, after it rose: 0.19 h is left to 1,000 h, at the hazard of today
    age = draw_ages(truth, scaled, np.full(N, 900.0), np.full(N, 800.0), one, rng)
    p = -np.expm1(-0.19 * h)
    assert float((age <= 1000.0).mean()) == pytest.approx(p, abs=4 * np.sqrt(p / N))


def test_a_spread_is_averaged_as_a_plain_sum_does() -> None:
    z = np.linspace(-8, 8, 20_001)
    w = np.exp(-0.5 * z**2)
    plain = float((w * -np.expm1(-0.2 * np.exp(0.5 * z))).sum() / w.sum())
    assert mean_chance(0.2, 0.5) == pytest.approx(plain, rel=1e-9)


def test_the_end_of_watching_of_a_failed_life_is_drawn_past_its_failure() -> None:
    lives = Spells.of(0, [100, 200, 300, 400, 500], [0, 1, 0, 0, 1])
    watch = watch_of(lives, np.zeros(5))
    # by hand, ends being what is counted: at 100 1 of 5, at 300 1 of 3 left, at 400 1 of 2
    assert watch.ends.tolist() == [100, 300, 400]
    assert watch.mass == pytest.approx([1 / 5, 4 / 5 / 3, 4 / 5 * 2 / 3 / 2])
    never = replace(BY_KEY["weibull"], law=lambda x, h, b: 1e-9 * x**b)
    scaled = scale_to(never, ACCEPTED, CLAIM, 2.0)
    ends = np.array(
        [draw_fleet(watch, never, scaled, stream(4, "w", i)).exit_upper for i in range(400)]
    )
    assert (ends[:, [0, 2, 3]] == [100, 300, 400]).all()
    assert set(ends[:, 1]) == {300.0, 400.0}
    # both have the same share; four standard errors of a half among 400
    assert float((ends[:, 1] == 300).mean()) == pytest.approx(0.5, abs=0.1)
    # nobody was watched longer than 500 h
    assert set(ends[:, 4]) == {500.0}


def test_at_equal_hours_failures_come_before_ends_of_watching() -> None:
    # by hand: of four alive at 200 one fails there, so one of three left ends its watching
    watch = watch_of(Spells.of(0, [200, 200, 300, 400], [1, 0, 0, 0]), np.zeros(4))
    assert watch.mass == pytest.approx([1 / 3, 1 / 3, 1 / 3])


def test_a_part_of_a_life_ends_with_the_part_before() -> None:
    n = 2000
    unit = np.repeat([f"e{i}" for i in range(n)], 2)
    lives = Spells.of(np.tile([0.0, 900.0], n), np.tile([900.0, 2000.0], n),
                      np.zeros(2 * n), unit=unit)  # fmt: skip
    scaled = scale_to(BY_KEY["weibull"], 0.5, CLAIM, 2.0)
    fleet = draw_fleet(watch_of(lives, np.zeros(2 * n)), BY_KEY["weibull"], scaled, stream(5, "x"))
    early = set(fleet.unit[fleet.failed & (fleet.entry == 0.0)].tolist())
    later = set(fleet.unit[fleet.entry > 0.0].tolist())
    assert early
    assert not early & later
    assert len(early) + len(later) == n


def checked_fleet(key: str) -> tuple[Spells, Watch]:
    """Return a fleet all of whose failures are found at checks 50 h apart, and its design."""
    n = 4000
    stop = np.full(n, 2000.0)
    failed = np.arange(n) < 10
    stop[:10] = 1000.0
    lives = Spells.of(0.0, stop, failed, exit_lower=np.where(failed, stop - 50.0, stop))
    watch = watch_of(lives, np.zeros(n))
    truth = BY_KEY[key]
    return draw_fleet(watch, truth, scale_to(truth, 0.5, CLAIM, 2.0), stream(6, "checks")), watch


def test_failures_are_found_at_checks_as_in_the_records() -> None:
    fleet, watch = checked_fleet("weibull")
    assert watch.checked == 1.0
    assert set(watch.gaps) == {50.0}
    width = (fleet.exit_upper - fleet.exit_lower)[fleet.failed]
    # the first check and the last may lie closer to their neighbours
    assert width.max() == pytest.approx(50.0)
    assert float(np.median(width)) == pytest.approx(50.0)
    late, _ = checked_fleet("overlooked")
    by = [float((f.failed & (f.exit_upper <= 1000)).mean()) for f in (fleet, late)]
    # overlooked three times in ten, a fault is found 0.3 / 0.7 checks later on the average
    assert by[1] < by[0]


def test_records_tell_less_than_happened() -> None:
    plain = draw_fleet(many(), BY_KEY["weibull"], scale_to(BY_KEY["weibull"], 0.5, CLAIM, 2.0),
                       stream(7, "same"))  # fmt: skip
    got = {
        key: draw_fleet(many(), BY_KEY[key], scale_to(BY_KEY[key], 0.5, CLAIM, 2.0),
                        stream(7, "same"))
        for key in ("unreported", "removals", "heaped")
    }  # fmt: skip
    gone = plain.n_failed - got["unreported"].n_failed
    assert gone / plain.n_failed == pytest.approx(0.2, abs=0.02)
    assert N - len(got["unreported"]) == gone
    assert len(got["removals"]) == N
    assert got["removals"].n_failed / plain.n_failed == pytest.approx(0.8, abs=0.02)
    assert got["removals"].exposure_h == pytest.approx(plain.exposure_h)
    near = got["heaped"].exit_upper
    assert (np.abs(near - plain.exit_upper) <= 25.0 + 1e-9).all()
    assert float((near % 50.0 == 0.0).mean()) > 0.99


def test_half_the_clocks_read_high_and_lives_are_true() -> None:
    truth = BY_KEY["clocks"]
    fleet = draw_fleet(many(), truth, scale_to(truth, 0.5, CLAIM, 2.0), stream(8, "clocks"))
    # a clock 15 % high shows 1,000 h at 870 h: H there is 0.756 of that at 1,000 h
    p = 0.5 * (0.5 + (1 - 0.5 ** (1 / 1.15**2)))
    share = float((fleet.failed & (fleet.exit_upper <= CLAIM)).mean())
    assert share == pytest.approx(p, abs=4 * np.sqrt(0.25 / N))
    short = draw_fleet(many(stop=500.0), truth, scale_to(truth, 0.5, CLAIM, 2.0), stream(9, "c"))
    assert short.exit_upper[~short.failed] == pytest.approx(500.0)
    assert short.exit_upper.max() <= 500.0 + 1e-9


def test_rows_of_many_lives_are_taken_apart_and_shares_refused() -> None:
    lives = Spells.of(0, [100, 200], [0, 1], weight=[3, 1])
    assert len(watch_of(lives, np.array([1.0, 2.0])).spells) == 4
    with pytest.raises(SpellError, match="shares of lives"):
        watch_of(Spells.of(0, [100], [0], weight=[0.5]), np.zeros(1))
    with pytest.raises(SpellError, match="too many"):
        watch_of(Spells.of(0, [100], [0], weight=[30_000]), np.zeros(1))
