"""Sentences on the bench, made from the numbers alone."""

from __future__ import annotations

from fleetstats.bands.interval import Interval
from fleetstats.chapters.bench.values import Bench, FieldCheck
from fleetstats.core.units import text_decided, text_hours, text_number, text_percent
from fleetstats.vocabulary.limits import FAR_FROM_TESTED
from fleetstats.vocabulary.wording import count, hours_down, hours_near, listed

UNTESTED_P = 0.05
"""A test's chance below which the law or the common shape is called doubtful."""

DOUBT = 0.05
"""Chance below which bench and field are said to contradict each other."""

MOST_NAMED = 5
"""Improbable failures named in a sentence."""

LONGEST_H = 20_000.0
"""Hours past which digits say nothing; no engine is flown so long (common practice, no source)."""


def _down(hours: float | None) -> str:
    return hours_down(None if hours is None else min(hours, LONGEST_H))


def _near(hours: float | None) -> str:
    if hours is not None and hours > LONGEST_H:
        return f"some age past {text_hours(LONGEST_H)}, longer than engines are flown"
    return hours_near(hours)


def bench_sentences(b: Bench) -> tuple[str, ...]:
    """Say the life in service, the margin, whether the field agrees, and what is assumed."""
    out = [_law(b)]
    if b.life_h is not None:
        out.append(_life(b))
    elif b.service_stress is None:
        out.append("The study states no service stress, so nothing is said of service.")
    else:
        out.append("The study states no cycles per hour, so bench lives do not turn into hours.")
    if b.margin is not None and b.required_h is not None:
        out.append(_margin(b))
    at_stated = [f for f in b.fields if f.per_h == b.per_h]
    for stated in at_stated:
        out.append(_field(b, stated))
        if stated.improbable:
            out.append(_improbable(stated))
        others = [f for f in b.fields if f.build == stated.build and f.agrees != stated.agrees]
        if others:
            out.append(
                "At another credible number of cycles per hour the comparison turns out "
                "otherwise; see the table."
            )
    if b.builds and not at_stated and b.per_h is not None:
        out.append(f"No field life is of build {b.builds[0]}, of which the benched parts are.")
    out.append(
        "A bench of new parts says nothing of corrosion, assembly or a prop strike before."
        if b.joined
        else f"Bench and field are not joined: {b.not_joined}."
    )
    return tuple(out)


def _law(b: Bench) -> str:
    unit = b.life_unit if b.life_unit == "cycles" else "hours"
    assert b.slope is not None
    assert b.shape is not None
    fall = text_number(-b.slope, digits=2)
    law = {
        "power": f"life falls with the power {fall} of the stress",
        "arrhenius": f"life falls with temperature at an activation energy of {fall} eV",
    }.get(b.relation, f"log life falls by {fall} per unit of stress")
    doubts = []
    if b.law_p is None:
        doubts.append("with so few stresses the law itself cannot be tested")
    elif b.law_p < UNTESTED_P:
        doubts.append(
            f"the runs speak against this law (so poor a fit has chance "
            f"{text_decided(b.law_p, UNTESTED_P)})"
        )
    if b.shape_p is not None and b.shape_p < UNTESTED_P:
        doubts.append(
            f"and against one shape for all stresses ({text_decided(b.shape_p, UNTESTED_P)})"
        )
    tail = f"; {', '.join(doubts)}" if doubts else "; the runs do not speak against it"
    return (
        f"{count(b.n, 'part')} run on the bench ({unit}), {b.n_failed} failed in {b.mode}, "
        f"{count(b.n_run_out, 'run-out')}: {law}, with a common shape of "
        f"{text_number(b.shape, digits=2)}{tail}."
    )


def _life(b: Bench) -> str:
    life = b.life_h
    assert life is not None
    low = "no lower limit" if life.low is None else f"at least {_down(life.low)}"
    out = (
        f"At service stress {text_percent(b.p)} of parts are expected to have failed by "
        f"{_near(life.estimate)}; {low} with one-sided {50 + 50 * b.level:g} % confidence, if "
        "the law holds down to there"
    )
    if b.life_range_h is not None and b.life_range_h[0] != b.life_range_h[1]:
        a, c = b.life_range_h
        out += f" ({_down(a)} to {_down(c)} over the credible cycles per hour)"
    if b.distance:
        out += (
            f". That is extrapolation: service lies {distance_words(b)} widths of "
            "the tested range outside it"
        )
    return out + "."


def distance_words(b: Bench) -> str:
    """Say how many widths of the tested range service lies outside it, and on which side of far."""
    return text_decided(b.distance, FAR_FROM_TESTED, unit="", digits=2)


def _margin(b: Bench) -> str:
    m = b.margin
    assert m is not None
    low = (
        "with no lower limit" if m.low is None else f"at least {text_decided(m.low, 1.0, unit='')}"
    )
    if m.unit == "K":
        low = "with no lower limit"
        if m.low is not None:
            low = f"at least {text_decided(m.low, 0.0, unit='')} K"
        most = "no limit"
        if m.estimate is not None:
            most = f"{text_decided(m.estimate, 0.0, unit='')} K"
        return (
            f"Temperature margin for {text_hours(b.required_h)} at {text_percent(b.p)}: {most} "
            f"above that of service, {low} (one-sided {50 + 50 * b.level:g} %)."
        )
    return (
        f"Stress margin for {text_hours(b.required_h)} at {text_percent(b.p)}: "
        f"{text_decided(m.estimate, 1.0, unit='')} times the service stress, {low} (one-sided "
        f"{50 + 50 * b.level:g} %)."
    )


def _field(b: Bench, f: FieldCheck) -> str:
    seen = count(f.seen, "failure")
    whose = f" of build {f.build or 'not stated'}" if b.builds else ""
    head = (
        f"Over the field's hours{whose} the bench leads one to expect about "
        f"{text_number(f.expected, digits=2)} failures in this mode "
        f"({text_number(f.expected_low, digits=2)} to {text_number(f.expected_high, digits=2)}); "
        f"{seen} came. "
    )
    if f.agrees == "field-lives-longer":
        return head + (
            f"So few have chance {text_decided(f.chance_so_few, DOUBT)}: the field speaks against "
            "the "
            "bench's prediction (it lives longer, or failures are unreported)."
        )
    if f.agrees == "field-fails-sooner":
        return head + (
            f"So many have chance {text_decided(f.chance_so_many, DOUBT)}: the field fails sooner "
            "than "
            "the bench predicts."
        )
    out = head + "The field does not contradict the bench"
    joint = f.joint_life_h
    if b.joined and joint is not None:
        return out + f"; together they give {_edges(joint)}."
    return out + "."


def _improbable(f: FieldCheck) -> str:
    named = [
        f"{x.engine} at {x.hours:,.0f} h ({text_decided(x.chance, DOUBT)})" for x in f.improbable
    ]
    n = len(named)
    return (
        f"{count(n, 'field failure').capitalize()} came younger than the bench's law lets expect: "
        f"{listed(named[:MOST_NAMED])}{' and others' if n > MOST_NAMED else ''}. The chances are "
        "those of so many failures by that age. Look at these parts first: another mode, or a part "
        "that is not as those on the bench."
    )


def _edges(x: Interval) -> str:
    low = "no lower limit" if x.low is None else _down(x.low)
    high = "no upper limit" if x.high is None else _near(x.high)
    return f"{_near(x.estimate)} ({low} to {high})"
