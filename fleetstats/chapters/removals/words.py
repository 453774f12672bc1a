"""What is said of removals, and the cautions that they call for."""

from __future__ import annotations

from fleetstats.chapters.removals.values import RemovalKind, Removals
from fleetstats.core.units import text_decided, text_stated
from fleetstats.survival.counting.ageing import Ageing
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.limits import BEFORE_CLAIM, HONEST_P, LEAST_OF_KIND
from fleetstats.vocabulary.wording import at_most, chance, count, hours_down, listed, stated


def kind_words(k: RemovalKind) -> str:
    """Name so many lives of a kind: "58 removals (prop strike)"."""
    if k.expect == "planned":
        return count(k.n, "planned overhaul")
    if k.expect == "lost":
        return count(k.n, "engine lost to follow-up", "engines lost to follow-up")
    if k.expect == "together":
        return f"{count(k.n, 'removal')} of all kinds together"
    if k.expect == "other-failure":
        return f"{count(k.n, 'failure')} from another cause ({k.kind})"
    if k.expect == "finding":
        return f"{count(k.n, 'removal')} on a finding ({k.kind})"
    return f"{count(k.n, 'removal')} ({k.kind})"


def shape_words_of(a: Ageing) -> str:
    """Say a shape with its lower limit."""
    if a.shape is None:
        return "all at the oldest hours seen"
    low = "" if a.low is None else f", at least {text_decided(a.low, 1.0, unit='', digits=2)}"
    return f"shape {text_decided(a.shape, 1.0, unit='', digits=2)}{low}"


def aged_kinds(r: Removals) -> tuple[RemovalKind, ...]:
    """Return the kinds that come with age though they should be random."""
    return tuple(k for k in r.kinds if k.p_held is not None and k.p_held < HONEST_P)


def removals_sentence(r: Removals) -> str:
    """Say whether removals that should be random come with age, and what they would turn."""
    aged, tested = aged_kinds(r), [k for k in r.kinds if k.tested]
    if aged:
        text = f"{listed([kind_words(k) for k in _apart(aged)])} come with age, as failures do."
    elif tested:
        n = sum(k.n for k in tested if k.expect == "random")
        text = (
            "No kind of removal that should be random is seen to come with age "
            f"({count(n, 'life', 'lives')} in all); few of them can hide much."
        )
    else:
        text = (
            f"No kind of removal that should be random has {LEAST_OF_KIND} lives, so their ages "
            "tell nothing of what ended them."
        )
    return f"{text} {_turning(r)}".strip()


def _apart(kinds: tuple[RemovalKind, ...]) -> tuple[RemovalKind, ...]:
    """Return single kinds; all together only where no single one is among them."""
    single = tuple(k for k in kinds if k.expect != "together")
    return single or kinds


def _turning(r: Removals) -> str:
    if not r.shown:
        return ""
    turning = [k for k in r.kinds if k.to_turn is not None]
    if not turning:
        return "Were all of any one kind failures, the claim would still be supported."
    least = min(turning, key=lambda k: k.to_turn or 0)
    return (
        f"The claim would no longer be supported if {least.to_turn} of the {kind_words(least)} "
        "were failures."
    )


def kind_line(k: RemovalKind) -> str:
    """Say one kind in a line, for the prompt."""
    parts = [f"{kind_words(k)}, {k.youngest_h:,.0f} to {k.oldest_h:,.0f} h"]
    if k.ageing is not None:
        parts.append(shape_words_of(k.ageing))
    if k.p_held is not None:
        parts.append(f"chance of ages so late {chance(k.p_held, HONEST_P)}")
    if k.to_turn is not None:
        parts.append(f"{k.to_turn} as failures turn the claim")
    return "; ".join(parts)


def early_words(k: RemovalKind) -> str:
    """Name the overhauls that did not wait for the claimed hours."""
    return f"{k.n_early:,.0f} of {count(k.n, 'planned overhaul')}"


def removal_cautions(r: Removals) -> tuple[Caution, ...]:
    """Return the cautions of the chapter: aged kinds, one source's kinds, early overhauls."""
    out = [_aged(r, k) for k in _apart(aged_kinds(r))]
    for k in r.kinds:
        s = k.source
        if s is not None and s.p_held < HONEST_P:
            told = (
                count(s.beside.n, "planned overhaul")
                if k.expect == "planned"
                else (f"{s.beside.n:,.0f} of the {kind_words(k)}")
            )
            out.append(
                caution(
                    "removals-of-one-source",
                    value=_p(s.p_held),
                    limit=text_stated(HONEST_P),
                    source=s.source,
                    what=told,
                    expected=f"{s.beside.expected:.1f}",
                    p=chance(s.p_held, HONEST_P),
                )
            )
        if k.expect == "planned" and k.to_turn is not None and k.n_early >= k.to_turn:
            out.append(
                caution(
                    "early-overhauls",
                    value=early_words(k),
                    limit=f"{k.to_turn} of them",
                    what=early_words(k),
                    early=stated(BEFORE_CLAIM),
                    to_turn=k.to_turn,
                )
            )
    return tuple(out)


def _aged(r: Removals, k: RemovalKind) -> Caution:
    assert k.ageing is not None
    assert k.p_held is not None
    told = {
        "what": kind_words(k),
        "shape": shape_words_of(k.ageing),
        "p": chance(k.p_held, HONEST_P),
    }
    figures = {"value": _p(k.p_held), "limit": text_stated(HONEST_P)}
    if r.claimed_h is None and r.hours > 0.0:
        return caution(
            "aged-removals/no-claim",
            **figures, **told,
            hours=hours_down(r.hours), hours_all=hours_down(k.hours_all),
        )  # fmt: skip
    if k.to_turn is not None:
        return caution("aged-removals/turns", **figures, **told, to_turn=k.to_turn)
    return caution("aged-removals-kept", **figures, **told)


def _p(p: float) -> str:
    return f"chance {at_most(max(p, 1e-12), HONEST_P)}" if p >= 1e-4 else f"chance {p:.1g}"
