"""The values of the bench's answer."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fleetstats.bands.interval import Interval
from fleetstats.core.value import Array, Value, frozen_array, value
from fleetstats.survival.stress.signed_root import RootShift
from fleetstats.vocabulary.caution import Caution

if TYPE_CHECKING:
    import pandas as pd


@value
class LevelLine(Value):
    """One tested stress: runs, failures, and the shortest and longest lives seen."""

    stress: float
    n: int
    n_failed: int
    shortest: float
    longest: float


@value
class Improbable(Value):
    """A field failure that the bench's law makes improbable; `chance` of so many by its age."""

    engine: str
    hours: float
    cause: str
    chance: float


@value
class FieldCheck(Value):
    """Bench and field side by side, at one value of cycles per hour.

    Parameters
    ----------
    per_h : float
        Bench life in one field hour.
    build : str
        Build standard of the field lives; blank where all are taken.
    expected : float
        Field failures that the bench's law leads one to expect over the field's hours.
    expected_low, expected_high : float
        Its range over reweighted refits of the bench.
    seen : float
        Field failures of the mode.
    chance_so_few, chance_so_many : float
        Chances of as few or fewer, as many or more, averaged over the refits.
    ratio : Interval or None
        Field life over bench prediction; None where the field says nothing yet.
    p_value : float or None
        Likelihood-ratio test that bench and field share one law.
    agrees : str
        ``"not-contradicted"``, ``"field-lives-longer"`` or ``"field-fails-sooner"``.
    joint_life_h : Interval or None
        Life at service stress from bench and field together; only where they may be joined.
    improbable : tuple of Improbable
        Field failures so young that the law makes them improbable.
    """

    per_h: float
    expected: float
    expected_low: float
    expected_high: float
    seen: float
    chance_so_few: float
    chance_so_many: float
    ratio: Interval | None
    p_value: float | None
    agrees: str
    joint_life_h: Interval | None
    build: str = ""
    improbable: tuple[Improbable, ...] = ()


@value
class Bench(Value):
    """What the bench says of service.

    Parameters
    ----------
    levels : tuple of LevelLine
        The stresses run.
    slope : float
        Of log life on log stress (power), on stress (exponential), or on -1 / (k T), less the
        activation energy in eV (Arrhenius).
    shape : float
        Common to all stresses.
    life_h : Interval or None
        Hours by which a share `p` has failed at service stress; None without service stress or
        without a conversion to hours.
    life_range_h : tuple of float or None
        Lower edge at the highest and at the lowest credible cycles per hour.
    margin : Interval or None
        Allowed stress over service stress for the required hours; for a temperature, the allowed
        one less that of service, in kelvin.
    distance : float or None
        How far service lies outside the tested range, in widths of that range.
    law_p, shape_p : float or None
        Tests of the law and of the common shape; None where the runs cannot test them.
    joined : bool
        Whether bench and field may be joined: same mode, proven on both sides.
    not_joined : str
        Why not.
    builds : tuple of str
        Builds with which the bench is compared, one by one; empty where the field has one.
    fields : tuple of FieldCheck
        At low, stated and high cycles per hour, for each build.
    shift : RootShift or None
        By what the limits of the life were moved so that they hold on so few runs.
    curve_stress, curve_life, curve_low, curve_high : (m,) float
        Life of a share `p` against stress, with its band, in the bench's unit.
    runs_stress, runs_life, runs_failed : (n,) arrays
        The runs themselves.
    """

    sentences: tuple[str, ...]
    level: float
    p: float
    relation: str
    stress_name: str
    life_unit: str
    mode: str
    n: int
    n_failed: int
    n_run_out: int
    n_other_mode: int
    levels: tuple[LevelLine, ...]
    shape: float | None = None
    slope: float | None = None
    intercept: float | None = None
    service_stress: float | None = None
    per_h: float | None = None
    life_h: Interval | None = None
    life_range_h: tuple[float | None, float | None] | None = None
    required_h: float | None = None
    margin: Interval | None = None
    distance: float | None = None
    law_p: float | None = None
    shape_p: float | None = None
    joined: bool = False
    not_joined: str = ""
    builds: tuple[str, ...] = ()
    fields: tuple[FieldCheck, ...] = ()
    shift: RootShift | None = None
    curve_stress: Array | None = None
    curve_life: Array | None = None
    curve_low: Array | None = None
    curve_high: Array | None = None
    runs_stress: Array | None = None
    runs_life: Array | None = None
    runs_failed: Array | None = None
    cautions: tuple[Caution, ...] = ()

    def __post_init__(self) -> None:
        for f in (
            "curve_stress",
            "curve_life",
            "curve_low",
            "curve_high",
            "runs_stress",
            "runs_life",
        ):
            if getattr(self, f) is not None:
                object.__setattr__(self, f, frozen_array(getattr(self, f)))
        if self.runs_failed is not None:
            object.__setattr__(self, "runs_failed", frozen_array(self.runs_failed, bool))

    def to_frame(self) -> pd.DataFrame:
        """Return a table with one row to a tested stress."""
        import pandas as pd

        return pd.DataFrame(
            [
                {"stress": x.stress, "n": x.n, "n_failed": x.n_failed, "shortest": x.shortest,
                 "longest": x.longest}
                for x in self.levels
            ]
        )  # fmt: skip

    def __repr__(self) -> str:
        return "\n".join((f"Bench: {self.n} runs, {self.n_failed} failed", *self.sentences))
