"""Last year's grade in sentences."""

from __future__ import annotations

from fleetstats.chapters.decision import stop_against
from fleetstats.core.units import text_hours, text_number
from fleetstats.studies.compare.grade import BandGrade, Grade, NewFailure, StopGrade
from fleetstats.vocabulary.wording import chance, count, listed, stated


def say_grade(g: Grade) -> tuple[str, ...]:
    """Say what came of the forecast, the alert line, the stop rule and the advice."""
    return (_forecast(g), *_gone(g), *_late(g.failures), *_alert(g), *_stop(g.stop), *_band(g.band))


def _forecast(g: Grade) -> str:
    f = g.forecast
    span = f"{f.low}" if f.low == f.high else f"{f.low} to {f.high}"
    made = "The earlier study forecast" if g.as_printed else (
        f"For the {g.months:.3g} months that passed (its report had others) the earlier study "
        "would have forecast"
    )  # fmt: skip
    flew = (
        f"Those engines flew {text_hours(g.hours_flown)}, where {text_hours(g.hours_ahead)} were "
        "taken for them."
    )
    if g.verdict == "inside":
        said = "that lies inside the interval"
    else:
        said = (
            f"that is {g.verdict} than the interval holds. So {_many(g.verdict)} would have come "
            f"with a chance of {chance(g.chance)} if nothing had changed; ask what did"
        )
    return (
        f"{made} about {text_number(f.expected, digits=2)} failures by now among "
        f"{count(g.n_running, 'engine')} then running, {span} with a chance of "
        f"{100 * f.level:g} %. {g.came} came: {said}. {flew}"
    )


def _gone(g: Grade) -> tuple[str, ...]:
    if not g.n_gone:
        return ()
    one = g.n_gone == 1
    return (
        f"{count(g.n_gone, 'engine')} of these {'is' if one else 'are'} in no later record, so "
        f"{'its' if one else 'their'} failures, if any, are not among those that came.",
    )


def _late(failures: tuple[NewFailure, ...]) -> tuple[str, ...]:
    late = [f.engine for f in failures if f.late]
    other = sum(not f.ran_then for f in failures)
    out = []
    if late:
        out.append(
            f"{count(len(late), 'failure')} of {listed(late[:5])} had come by the date of the "
            "earlier records and was told only later: reports come late."
            if len(late) == 1
            else f"{len(late)} failures ({listed(late[:5])}"
            f"{f' and {len(late) - 5} more' if len(late) > 5 else ''}) had come by the date of the "
            "earlier records and were told only later: reports come late."
        )
    if other:
        out.append(
            f"{count(other, 'failure')} more came of engines that did not run in the earlier "
            "records, which no forecast covered."
        )
    return tuple(out)


def _alert(g: Grade) -> tuple[str, ...]:
    if g.alert is None:
        return ()
    line = f"The alert line ({g.alert} by the end)"
    if not g.alert_on:
        return (f"{line} was not reached.",)
    when = g.alert_on if g.alert_on == "by the end" else f"on {g.alert_on}"
    return (
        f"{line} was reached {when}; if nothing had changed, it would be in at most "
        f"{stated(g.false_alarm)} of seasons.",
    )


def _stop(s: StopGrade) -> tuple[str, ...]:
    below = "" if s.below_h is None else f" below {text_hours(s.below_h)}"
    rule = (
        f"The stop rule ({count(s.failures, 'further failure')}{below}, or of a cause that the "
        "checks cannot see)"
    )
    against = "" if s.asked is None else stop_against(s.asked)
    if s.counted < s.failures:
        said = f"{rule} was not reached: {count(s.counted, 'such failure')} came."
    else:
        on = f" on {s.day}" if s.day else ""
        more = f"; {s.counted} such failures came in all" if s.counted > s.failures else ""
        said = (
            f"{rule} was reached with {s.engine}{on}{more}: by its own words the earlier advice "
            "ended there, until it was worked out again."
        )
    return (said, *([against] if against else []))


def _band(b: BandGrade) -> tuple[str, ...]:
    n = b.below + b.within + b.past
    if b.plan_from_h is None:
        return ()
    start = text_hours(b.plan_from_h)
    if not n:
        came = "No new failure came"
    else:
        end = "" if b.not_beyond_h is None else f" to {text_hours(b.not_beyond_h)}"
        came = (
            f"Of {count(n, 'new failure')}, {b.below} came below {start}, where the earlier band "
            f"began, {b.within} within it ({start}{end}), {b.past} past it"
        )
    ran = f"{count(b.passed, 'engine')} ran past {start} since and did not fail"
    return (f"{came}; {ran}.",)


def _many(verdict: str) -> str:
    return "many" if verdict == "more" else "few"
