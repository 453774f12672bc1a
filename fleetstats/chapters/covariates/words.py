"""What is said of what goes with longer or shorter life."""

from __future__ import annotations

from fleetstats.chapters.covariates.values import AnswerAt, Effects
from fleetstats.core.units import text_decided, text_percent
from fleetstats.survival.regression.regression import Regression
from fleetstats.vocabulary.wording import count, hours_down, hours_near, listed, shape_words


def effects_sentence(r: Regression) -> str:
    """Say what goes with longer or shorter life, or why nothing can be said."""
    if r.treatment == "refused":
        return r.because
    shown = [f for f in r.factors if f.reading != "not shown"]
    held = "" if r.treatment == "plain" else " (held back towards none by a stated prior)"
    if not shown:
        n = len(r.factors)
        which = (
            f"For {r.factors[0].name} no longer or shorter life is shown"
            if n == 1
            else f"None of the {n} covariates is shown to go with a longer or shorter life"
        )
        bands = "the band of the life factor holds" if n == 1 else "each band holds"
        return f"{which}{held}; {bands} 1. That is no proof of no effect."
    parts = []
    for f in shown:
        low = "no limit" if f.low is None else text_decided(f.low, 1.0, unit="")
        high = "no limit" if f.high is None else text_decided(f.high, 1.0, unit="")
        per = "" if ": " in f.name else f" per {f.step:g}"
        if f.factor is None:
            parts.append(
                f"{f.name}{per}: life times at least {low} (one-sided {50 + 50 * r.level:g} %; no "
                "failure, so no estimate and no upper limit)"
            )
            continue
        parts.append(
            f"{f.name}{per}: life times {text_decided(f.factor, 1.0, unit='')} ({low} to {high})"
        )
    return f"Shown to go with another life{held}: {'; '.join(parts)}."


ADJUSTED = {"build": "build", "calendar": "time of entry"}
"""What effects are adjusted for, in words."""


def levels_sentence(e: Effects) -> str:
    """Say what goes with longer or shorter life among the levels, or what little is known."""
    told = tuple(dict.fromkeys(x.column for x in e.levels))
    if not told:
        return "No effects can be given. No column of words has two values among these lives."
    r = e.regression
    if r is not None and r.factors:
        out = effects_sentence(r)
        if e.adjusted:
            out += f" Adjusted for {listed([ADJUSTED[a] for a in e.adjusted])}."
        return out
    n = sum(x.failures for x in e.levels if x.column == told[0])
    why = r.because if r is not None else e.reason
    if not n:
        return (
            "No effects can be given: no failure among these lives, so no level can be told from "
            f"another. {listed(list(told))} stand below with their hours."
        )
    shown = shown_over_shapes(e)
    if shown:
        return f"{why} At every shape looked at, {'; '.join(shown)}."
    return f"{why} At no shape looked at is any level shown to go with another life."


def shown_over_shapes(e: Effects) -> list[str]:
    """Return the levels whose life is longer, or shorter, at each shape of the range."""
    out = []
    for name in dict.fromkeys(x.name for x in e.over_shapes):
        mine = [x for x in e.over_shapes if x.name == name]
        lows, highs = [x.low for x in mine], [x.high for x in mine]
        if all(x is not None and x > 1.0 for x in lows):
            out.append(f"{name} goes with a longer life")
        elif all(x is not None and x < 1.0 for x in highs):
            out.append(f"{name} goes with a shorter life")
    return out


def values_words(at: AnswerAt) -> str:
    """Say the values asked for: "use towing and fuel unleaded"."""
    return listed([f"{v.name} {v.value}" for v in at.values if v.how == "asked"])


def at_sentence(at: AnswerAt, p: float) -> str:
    """Say the life at the values asked for, with its band."""
    what, sure = values_words(at), f"{50 + 50 * at.level:g} %"
    seen = f"{count(at.n, 'life', 'lives')}, {count(at.n_failed, 'failure')}"
    share = text_percent(1.0 - p)
    if at.law is not None:
        (life,) = at.law.lives
        far = "; beyond what any such life reached" if life.extrapolated else ""
        edge = life.life_h
        if at.law.one_sided:
            low = "no limit is told" if edge.low is None else f"at least {hours_down(edge.low)}"
            return (
                f"At {what} ({seen}): {share} reach {low} (one-sided {sure}); no failure there, so "
                f"no estimate and no upper limit{far}."
            )
        low = "no lower limit" if edge.low is None else hours_down(edge.low)
        high = "no upper limit" if edge.high is None else hours_near(edge.high)
        return (
            f"At {what} ({seen}): {share} reach {hours_near(edge.estimate)} ({low} to {high}){far}."
        )
    if not at.shapes:
        return f"At {what}: no life in the records has these values, so nothing can be said."
    lows = [x.low_h for x in at.shapes if x.low_h is not None]
    span = f"{shape_words(at.shapes[0].shape)} to {shape_words(at.shapes[-1].shape)}"
    low, high = hours_down(min(lows)), hours_down(max(lows))
    return (
        f"At {what} ({seen}): from these lives alone {share} reach at least {low} to {high} "
        f"(one-sided {sure}, at shapes {span})."
    )
