"""Two studies of one fleet into one document: what changed, and what each change did."""

from __future__ import annotations

import dataclasses
import hashlib
from collections import Counter

from fleetstats import __version__
from fleetstats.advice.key_figures import AdviceFigure
from fleetstats.core.provenance import Provenance, SourceFile, installed_versions
from fleetstats.core.units import text_hours
from fleetstats.core.value import Value, value
from fleetstats.document.blocks import BASES, METERS, facts, files_table, say
from fleetstats.document.document import (
    Block,
    Document,
    Explain,
    Section,
    Table,
)
from fleetstats.document.table_of import col, table_of
from fleetstats.document.words import VERDICT_TEXT
from fleetstats.spells.spells import Spells
from fleetstats.studies.compare.attribution import Walk
from fleetstats.studies.compare.declarations import say_declarations
from fleetstats.studies.compare.engines import (
    KINDS,
    EngineChange,
    caution_rewritten,
    engine_changes,
)
from fleetstats.studies.compare.figure import walk_figure
from fleetstats.studies.compare.mends_apart import say_mends_apart
from fleetstats.studies.compare.settings import SettingChange
from fleetstats.studies.compare.year import compose_year
from fleetstats.study.leaves import settings_digest
from fleetstats.study.study import Study
from fleetstats.vocabulary.capitals import small
from fleetstats.vocabulary.caution import STANDING_NOTICE, Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.wording import count, listed


@value
class Side(Value):
    """One of two studies that are compared: its settings, its files and its lives."""

    study: Study
    sources: tuple[SourceFile, ...]
    spells: Spells


def compose_compare(old: Side, new: Side, walk: Walk, *, command: str = "") -> Document:
    """Return the comparison of two studies, format-free.

    Parameters
    ----------
    old, new : Side
        The earlier and the later study.
    walk : Walk
        The walk from one advice to the other, by `decide.walk.walk_advice`.
    command : str
        Command line to print under *Provenance*.
    """
    changes = engine_changes(
        old.spells, new.spells, hours_alike=new.study.settings.merge.hours_alike
    )
    last = walk.steps[-1].figure
    s = new.study.settings
    claim = s.study.claimed_interval_h
    versions = installed_versions()
    files = tuple(
        dataclasses.replace(f, name=f"{side}/{f.name}")
        for side, files in (("earlier", old.sources), ("later", new.sources))
        for f in files
    )
    return Document(
        title=f"What changed: {s.study.title}",
        subtitle=(
            f"{METERS[s.hours.meter]} {BASES[s.hours.basis]}, from records to {walk.before} to "
            f"records to {walk.after}"
        ).capitalize(),
        report_id=_identity(files, walk, old, new),
        answer=_answer(walk, changes),
        verdict=last.verdict or last.state,
        first_figure=walk_figure(walk),
        sections=(
            Section(key="walk", title="From the earlier advice to the later", blocks=_walk(walk)),
            *(
                ()
                if walk.last_year is None and not walk.gone and not walk.joined
                else compose_year(walk)
            ),
            Section(
                key="settings-changed",
                title="Settings that differ",
                blocks=_settings(walk, old, new),
            ),
            Section(
                key="records-changed",
                title="What became of the records",
                blocks=_records(walk, changes),
            ),
            _provenance(files, versions, old, new, command),
        ),
        cautions=(*caution_rewritten(changes), *_unlike(walk.settings)),
        provenance=Provenance(files=files, versions=versions, seed=s.study.seed, command=command),
        asked=(
            "No interval is claimed in the later study"
            if claim is None
            else f"On the interval claimed in the later study, {text_hours(claim)}"
        ),
        cut_off=walk.after,
        method=f"walk of advice in {len(walk.steps) - 1} steps, fleetstats {__version__}",
    )


def _answer(walk: Walk, changes: tuple[EngineChange, ...]) -> tuple[str, ...]:
    """Return the three sentences of the first screen: the move, the records, what is odd."""
    d = walk.data
    records = (
        f"{count(d.engines_both, 'engine')} {'is' if d.engines_both == 1 else 'are'} in both, "
        f"{d.engines_new:,} new, {d.engines_gone:,} gone; {count(d.failures_after, 'failure')} in "
        f"{d.exposure_after_h:,.0f} h, where it was {d.failures_before:,.0f} in "
        f"{d.exposure_before_h:,.0f} h."
    )
    odd = caution_rewritten(changes)
    last = (
        f"The later records take something back: {odd[0].value}."
        if odd
        else "Nothing that the earlier records held is taken back by the later ones."
    )
    return (move_sentence(walk), records, last)


def move_sentence(walk: Walk) -> str:
    """Return the move of the advice and its main cause, without the records."""
    return walk.sentence[: walk.sentence.index("The records hold")].strip()


def _walk(walk: Walk) -> tuple[Block, ...]:
    blocks: list[Block] = [say(walk.sentence, "answer")]
    blocks += [
        table_of(
            walk.steps,
            key="walk",
            title="Each step and the advice after it",
            columns=(
                col("step", "After", lambda s: s.what),
                col("failed", "Failures", lambda s: s.figure.n_failed, "count"),
                col("plan_from_h", "Plan from", lambda s: s.figure.plan_from_h, "hours"),
                col("move_h", "Move", lambda s: s.move_h, "hours"),
                col("expect_at_h", "Expect at", lambda s: s.figure.expect_at_h, "hours"),
                col("not_beyond_h", "Not beyond", lambda s: s.figure.not_beyond_h, "hours"),
                col("verdict", "Verdict on the claim", lambda s: _verdict(s.figure)),
            ),
            see="A blank has no such hours in the advice of that step.",
        ),
        _advice(walk),
        say(
            "The cautions of each study stand in its own report, and they hold here too.",
            "caution",
        ),
        say(
            "The steps are taken in this order: settings, then maps, rules and treatments where "
            "they differ, further hours, endings, engines that left, engines that joined. The "
            "whole move does not depend on the order; its shares do.",
            "assumption",
        ),
        Explain(
            term="walk of advice",
            text=(
                "One thing is changed at a time, from the earlier study to the later, and the "
                "whole advice is worked out after each, so that every part of the move has one "
                "cause."
            ),
        ),
    ]
    return tuple(blocks)


def _verdict(figure: AdviceFigure) -> str:
    word = figure.verdict or figure.state
    return small(VERDICT_TEXT[word])


def _advice(walk: Walk) -> Table:
    first, last = walk.steps[0].figure, walk.steps[-1].figure

    def hours(v: float | None) -> str:
        return "none" if v is None else text_hours(round(v / 50.0) * 50.0 if v >= 100 else v)

    def shape(v: float | None) -> str:
        return "none" if v is None else f"{v:.2g}"

    rows = [
        ("Overhaul band: plan from", hours(first.plan_from_h), hours(last.plan_from_h)),
        ("Overhaul band: expect at", hours(first.expect_at_h), hours(last.expect_at_h)),
        ("Overhaul band: not beyond", hours(first.not_beyond_h), hours(last.not_beyond_h)),
        (
            "Age that the target share reaches, best estimate",
            hours(first.life_h),
            hours(last.life_h),
        ),
        ("The same, pessimistic edge", hours(first.life_low_h), hours(last.life_low_h)),
        ("Weibull shape, best estimate", shape(first.shape), shape(last.shape)),
        ("Verdict on the claim", _verdict(first), _verdict(last)),
    ]
    return table_of(
        rows,
        key="advice-before-after",
        title="The advice, before and after",
        columns=(
            col("what", "Advice", lambda x: x[0]),
            col("before", f"Records to {walk.before}", lambda x: x[1]),
            col("after", f"Records to {walk.after}", lambda x: x[2]),
        ),
        see="Hours are rounded to 50 h.",
    )


def _settings(walk: Walk, old: Side, new: Side) -> tuple[Block, ...]:
    declared = [say(x) for x in say_declarations(old.study, old.sources, new.study, new.sources)]
    declared += [say(x) for x in say_mends_apart(old.study, new.study)]
    if not walk.settings:
        return (say("Both studies have the same settings, title and dates apart."), *declared)
    told = [say(trouble_sentence(walk), "missing")] if walk.trouble else []
    return (
        *told,
        *declared,
        table_of(
            walk.settings,
            key="settings-changed",
            title="Settings before and after",
            columns=(
                col("key", "Setting", lambda c: c.key),
                col("before", "Before", lambda c: c.before),
                col("after", "After", lambda c: c.after),
            ),
            see="All other settings are the same.",
        ),
    )


def trouble_sentence(walk: Walk) -> str:
    """Say why the earlier records could not be read as the later study reads, and what of it."""
    return (
        "The earlier records cannot be read by the later study's maps, rules and treatments "
        f"({walk.trouble}), so what these did is not told apart from what became of the engines."
    )


def _records(walk: Walk, changes: tuple[EngineChange, ...]) -> tuple[Block, ...]:
    d = walk.data
    kinds = Counter(c.kind for c in changes)
    rows: list[tuple[str, float | int | None, float | int | None, float | int]] = [
        (
            "Engines",
            d.engines_both + d.engines_gone,
            d.engines_both + d.engines_new,
            d.engines_new - d.engines_gone,
        ),
        (
            "Engine hours",
            round(d.exposure_before_h),
            round(d.exposure_after_h),
            round(d.exposure_after_h) - round(d.exposure_before_h),
        ),
        ("Failures in question", d.failures_before, d.failures_after, d.failures_added),
    ]
    blocks: list[Block] = [
        table_of(
            rows,
            key="records-before-after",
            title="The records, before and after",
            columns=(
                col("what", "What", lambda x: x[0]),
                col("before", "Before", lambda x: x[1], "count"),
                col("after", "After", lambda x: x[2], "count"),
                col("change", "Change", lambda x: x[3], "count"),
            ),
        )
    ]
    taken = caution_rewritten(changes)
    blocks += [say(f"{c.text} ({c.value})", "caution") for c in taken]
    if not changes:
        return (*blocks, say("No engine changed but by running on."))
    said = [f"{kinds[k]:,} {text}" for k, text in KINDS.items() if kinds[k]]
    blocks += [
        say(f"Engines that changed by more than running on: {listed(said)}."),
        table_of(
            changes,
            key="engines-changed",
            title="Engines that changed by more than running on",
            columns=(
                col("engine", "Engine", lambda c: c.unit),
                col("what", "What changed", lambda c: KINDS[c.kind]),
                col("before_h", "Hours before", lambda c: c.before_h, "hours"),
                col("after_h", "Hours after", lambda c: c.after_h, "hours"),
                col("ended_before", "Ending before", lambda c: c.ended_before),
                col("ended_after", "Ending after", lambda c: c.ended_after),
            ),
            folded=len(changes) > 30,
        ),
    ]
    return tuple(blocks)


def _unlike(settings: tuple[SettingChange, ...]) -> tuple[Caution, ...]:
    keys = list(dict.fromkeys(c.key for c in settings if c.redefines))
    if not keys:
        return ()
    return (caution("definition-changed", value=listed(keys), limit="the same question and clock"),)


def _identity(files: tuple[SourceFile, ...], walk: Walk, old: Side, new: Side) -> str:
    h = hashlib.sha256()
    for f in files:
        h.update(f"{f.name}\0{f.sha256}\n".encode())
    for side in (old, new):
        h.update(settings_digest(side.study).encode())
    h.update(f"{walk.before}\0{walk.after}\0{__version__}".encode())
    return f"FC-{h.hexdigest()[:10]}"


def _study_files(old: Side, new: Side) -> tuple[SourceFile, ...]:
    """Return both study files under the names of their sides, where they were read from files."""
    return tuple(
        dataclasses.replace(side.study.source, name=f"{word}/{side.study.source.name}")
        for word, side in (("earlier", old), ("later", new))
        if side.study.source is not None
    )


def _provenance(
    files: tuple[SourceFile, ...], versions: dict[str, str], old: Side, new: Side, command: str
) -> Section:
    rows = [("Command", command or "not said")]
    for word, side in (("earlier", old), ("later", new)):
        s = side.study.settings.study
        rows.append((f"Seed of the {word} study", str(s.seed)))
    rows += sorted((f"Version of {k}", v) for k, v in versions.items())
    blocks: list[Block] = [
        facts(
            "provenance",
            "To make this comparison again",
            rows,
            "Same files, settings, seeds and versions give the same bytes.",
        ),
        files_table(files, _study_files(old, new)),
        *(say(line, "caution") for line in STANDING_NOTICE),
    ]
    return Section(key="provenance", title="Provenance", blocks=tuple(blocks))
