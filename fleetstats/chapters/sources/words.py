"""What is said of sources, and the cautions that they call for."""

from __future__ import annotations

from fleetstats.chapters.sources.values import SideAnswer, SourceLine, Sources
from fleetstats.core.units import text_stated
from fleetstats.document.words import VERDICT_TEXT
from fleetstats.vocabulary.capitals import capital
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.limits import FAR_FEWER, HONEST_P
from fleetstats.vocabulary.wording import at_most, chance, count, hours_down


def source_name(x: SourceLine) -> str:
    """Name a source, one without a name too."""
    return x.source or "source not given"


def sources_sentence(s: Sources) -> str:
    """Say which sources cannot well be right, or that none is seen not to be."""
    odd = [c.proviso for c in source_cautions(s)]
    if odd:
        return " ".join(f"{capital(t)}." for t in odd)
    parts = []
    compared = [x for x in s.lines if x.p_fewer is not None]
    if compared:
        parts.append(
            f"None of the {len(s.lines)} sources is seen to tell far fewer failures than the "
            "others at equal ages."
        )
    elif len(s.lines) > 1:
        parts.append(
            "No failure was told at an age that two sources reached, so none can be set beside "
            "the others."
        )
    ranked = sum(x.drop_off.n_ranked for x in s.lines if x.drop_off is not None)
    if ranked:
        parts.append(
            f"{capital(count(ranked, 'engine'))} dropped off a list; none of the sources loses "
            "older engines first, as far as is seen."
        )
    return " ".join(parts) or "No engine is seen to drop off the list of its source."


def source_line(x: SourceLine) -> str:
    """Say one source in a line, for the prompt."""
    text = f"{source_name(x)}: {count(x.n, 'life', 'lives')}"
    if x.beside is not None:
        text += f", {count(x.beside.n, 'failure')} told, {_expected(x)} expected"
    if x.p_fewer is not None:
        text += f" (chance of so few {chance(x.p_fewer, HONEST_P)})"
    if x.drop_off is not None and x.drop_off.n:
        text += f"; {count(x.drop_off.n, 'engine')} dropped off its list"
    return text


def side_words(side: SideAnswer, accepted: float) -> str:
    """Say one answer in a line: its verdict, its bound and its hours."""
    hours = f"target shown to {hours_down(side.hours)}" if side.hours > 0.0 else "no hours shown"
    if side.failure_high is None:
        return hours
    return (
        f"{VERDICT_TEXT[side.verdict]}, at most {at_most(side.failure_high, accepted)} with the "
        f"failure; {hours}"
    )


def side_rows(s: Sources) -> list[tuple[str, str]]:
    """Return the answers with and without the sources that cannot well be right; mostly none."""
    return [
        (
            f"Without {x.without}" if x.without else "With all sources",
            side_words(x, s.accepted_failure),
        )
        for x in s.sides
    ]


def source_cautions(s: Sources) -> tuple[Caution, ...]:
    """Return a caution for each thing that cannot well be chance."""
    return tuple(_caution(s, x, odd) for x in s.lines for odd in x.odd)


def _caution(s: Sources, x: SourceLine, odd: str) -> Caution:
    name, limit = source_name(x), text_stated(HONEST_P)
    if odd == "all-failed":
        n = sum(y.n for y in s.lines) - x.n
        failed = sum(y.n_ended_failed for y in s.lines) - x.n_ended_failed
        return caution(
            "all-failed-source",
            value=_p(x.p_all), limit=limit, source=name, engines=count(x.n, "life", "lives"),
            others=f"{failed:,.0f} of {n:,.0f}", p=_said(x.p_all),
        )  # fmt: skip
    if odd == "drops-off":
        dropped = x.drop_off.n_ranked if x.drop_off is not None else 0
        return caution(
            "engines-drop-off",
            value=_p(x.p_drop), limit=limit, source=name, what=count(dropped, "engine"),
            p=_said(x.p_drop),
        )  # fmt: skip
    told = {"source": name, "expected": _expected(x), "p": _said(x.p_fewer)}
    if odd == "silent":
        return caution("silent-source", value=_p(x.p_fewer), limit=limit, **told)
    assert x.beside is not None
    return caution(
        "silent-source/fewer",
        value=_p(x.p_fewer), limit=limit, **told, failures=count(x.beside.n, "failure"),
        share=at_most(x.beside.high or 0.0, FAR_FEWER),
    )  # fmt: skip


def _expected(x: SourceLine) -> str:
    return "none" if x.beside is None else f"{x.beside.expected:.1f}"


def _said(p: float | None) -> str:
    return chance(1.0 if p is None else p, HONEST_P)


def _p(p: float | None) -> str:
    return f"chance {1.0 if p is None else p:.1g}"
