"""A claim at given hours, as values."""

from __future__ import annotations

from fleetstats.advice.advice import say_word
from fleetstats.advice.doubts.values import PriorWeight
from fleetstats.advice.doubts.words import say_prior_weight
from fleetstats.advice.looks.look import ThisLook
from fleetstats.bands.interval import Interval
from fleetstats.core.value import Array, Floats, Value, value
from fleetstats.vocabulary.capitals import capital
from fleetstats.vocabulary.caution import with_notice

HIDDEN_SHOWN = (1, 2, 3)
"""Numbers of unreported failures that the table of a claim shows."""


@value
class ClaimRow(Value):
    """The claim if the shape is `shape`; all bounds are one-sided at the claim's confidence.

    Parameters
    ----------
    equivalents : float
        Whole lives to the claimed hours that the records are worth.
    failure_high, reliability_low : float
        Upper bound of the chance of failure by the claimed hours, and its complement.
    shown_to_h : float
        Hours up to which the target reliability is shown (lower bound of that B-life).
    failure_if_hidden : tuple of float
        `failure_high` if 1, 2, 3 failures are unreported.
    hidden_to_break : int
        Least number of unreported failures with which the accepted chance is passed; 0: passed.
    reporting_share : float
        Share of failures that must be reported for the claim to hold; above 1: not shown at all.
    """

    shape: float
    equivalents: float
    failure_high: float
    reliability_low: float
    shown_to_h: float
    failure_if_hidden: tuple[float, ...]
    hidden_to_break: int
    reporting_share: float
    least_favourable: bool = False


@value
class ClaimSubset(Value):
    """The same claim for one group of engines (of a build standard, of a source).

    Judged and quoted as the whole fleet's is; `state`, `failure_high`, `failure_low`, `shown_to_h`,
    `extrapolated` and what counts failures left out as in `Claim`. Those left out of no known group
    count for each.
    """

    group: str
    name: str
    n_lives: float
    n_engines: int
    n_failed: float
    exposure_h: float
    n_reached: float
    failure_low: float
    failure_high: float
    shown_to_h: float
    supported_h: float
    state: str
    extrapolated: bool
    failure_high_with_left_out: float | None = None
    n_left_out: int = 0


@value
class Claim(Value):
    """What the records support at `hours`.

    Parameters
    ----------
    state : str
        The verdict's word: a key of `VERDICTS`, by `advice/judge.py`.
    because : str
        What decided.
    extrapolated : bool
        The claimed hours lie beyond those with enough engines at risk: unless the claim is
        contradicted there already, numbers are extrapolation and nothing may be quoted.
    confidence : float
        One-sided: each bound holds at this confidence.
    worst : ClaimRow
        The least favourable shape anywhere between the least and greatest of `rows`.
    n_lives, n_engines : float, int or None
        Lives seen, and the engines whose they are; None where the records do not say whose.
    n_reached, n_engines_reached : float, float or None
        Lives at risk at the hours, and the engines whose they are.
    no_shape : tuple of (float, float) or None
        Lives followed from their start that settle the claim by themselves (reached the hours or
        failed before), and the upper bound of the failure probability from them alone.
    prior : Interval
        Reliability at the hours under the prior on the shape.
    chosen : Interval
        Reliability at the hours by the method chosen for these data.
    failure_high : float
        The upper bound that is quoted: the worse of those that apply.
    failure_low : float
        The lower bound, by the claimed hours or, past the evidence, by its end; above what is
        accepted it contradicts the claim.
    governed_by : str
        Method behind it: ``"open-shapes"``, ``"shape-free"``, ``"profile"``, …
    failure_high_with_left_out : float or None
        The same bound with the failures that stand in the records and in no life, at their least
        favourable ages; a supported claim needs both. None where all are counted.
    n_left_out, left_out : int, str
        How many those are, and the same as a clause: "5 further failures have no hours".
    shown_to_h : float
        Hours up to which the target reliability is shown, by the same rule and with failures left
        out; at most `supported_h`.
    hidden_to_turn : int or None
        Least number of unreported failures that would leave a supported claim no longer shown.
    first : FirstFailures or None
        What one to four failures say, where there are so many.
    curve_hours, curve_worst, curve_best : (m,) float
        Upper bound of the failure chance against hours: for the least and the most favourable shape
        of the range at each age.
    may_quote, may_not_quote : str
        A sentence that these records carry, and one that they do not.
    provisos : tuple of str
        What is open about the claim, as clauses; `may_quote` holds them.
    refused, prior_weight, assumed_h, failure_high_as_read
        As in the verdict on the claim.
    failure_high_since_rise : float or None
        The quoted bound from what came after a rise of the rate alone; None where none is shown.
    look : ThisLook or None
        Which look at the records this is; None for one alone.
    unlooked : bool
        Conditions at a check are in question, and no check is in the records.
    """

    state: str
    because: str
    extrapolated: bool
    hours: float
    target: float
    confidence: float
    n_lives: float
    n_engines: int | None
    n_failed: float
    exposure_h: float
    n_reached: float
    n_engines_reached: float | None
    exposure_past_h: float
    supported_h: float
    oldest_h: float
    rows: tuple[ClaimRow, ...]
    worst: ClaimRow
    no_shape: tuple[float, float] | None
    prior: Interval
    chosen: Interval
    failure_high: float
    governed_by: str
    shown_to_h: float
    shown_held_by_evidence: bool
    hidden_to_turn: int | None
    failure_low: float
    first: FirstFailures | None
    curve_hours: Floats
    curve_worst: Floats
    curve_best: Floats
    subsets: tuple[ClaimSubset, ...]
    may_quote: str
    may_not_quote: str
    provisos: tuple[str, ...] = ()
    look: ThisLook | None = None
    failure_high_with_left_out: float | None = None
    n_left_out: int = 0
    left_out: str = ""
    refused: str = ""
    prior_weight: PriorWeight | None = None
    assumed_h: float = 0.0
    failure_high_as_read: float | None = None
    failure_high_since_rise: float | None = None
    unlooked: bool = False

    @property
    def counts_engines(self) -> bool:
        """Return whether each engine has one life, so that lives counted are engines counted."""
        return self.n_engines is not None and abs(self.n_lives - self.n_engines) < 1e-9

    def __repr__(self) -> str:
        word = say_word(self.state, extrapolated=self.extrapolated, provisos=self.provisos)
        word = capital(word)
        lines = [f"{word}: {self.may_quote}", f"Not: {self.may_not_quote}"]
        if self.prior_weight is not None:
            lines.append(say_prior_weight(self.prior_weight, 1.0 - self.target))
        return "\n".join([*lines, self.first.sentence] if self.first is not None else lines)

    def __str__(self) -> str:
        """Return what may and may not be claimed, and what limits its use."""
        return with_notice(repr(self))


@value
class AgePattern(Value):
    """How the failure ages sit with one kind of failure.

    `chance_so_early` and `chance_so_late`: chance that the failures' mean rank among the hours at
    risk would be as low, or as high, as seen. `support` is the likelihood beside that of chance
    failures (shape 1).
    """

    name: str
    shape: float
    chance_so_early: float
    chance_so_late: float
    support: float


@value
class FirstFailures(Value):
    """What one to four failures say.

    Parameters
    ----------
    ages_h : (r,) float
        Hours at the failures, rising.
    causes : tuple of str
        As recorded, one for each age.
    failure_high_with, failure_high_without : float
        Upper bound of the failure chance by the claimed hours, with the failures counted and as if
        they had been censored.
    chance_if_accepted : float
        Chance of at least so many failures over these hours if the accepted chance by the claimed
        hours were the truth, at the shape that makes it largest.
    patterns : tuple of AgePattern
        Early faults, chance, wear-out.
    """

    sentence: str
    ages_h: Array
    causes: tuple[str, ...]
    failure_high_with: float
    failure_high_without: float
    chance_if_accepted: float
    patterns: tuple[AgePattern, ...]
