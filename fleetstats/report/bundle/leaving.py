"""What would leave the house with a pseudonymous bundle: said before anything is written.

Pseudonyms hide names, not lives: hours to the tenth are as good as a name to whoever knows them. So
hours and dates leave coarsened, and the statement says what could still be recognised, and shows
every word that travels as it stands.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterator
from dataclasses import fields

from fleetstats.core.value import Value, value
from fleetstats.records.audit.finding import Audit
from fleetstats.records.spelling import named_causes
from fleetstats.report.bundle.hiding.steps import Steps
from fleetstats.report.bundle.hiding.study_text import FREE, LEFT_OUT
from fleetstats.study.declared import DECLARED_FILE
from fleetstats.study.history import read_history
from fleetstats.study.study import MENDS_FILE, Study
from fleetstats.vocabulary.wording import count, listed

FEW = 5
"""Engines of a build or source below which one of them is easily recognised."""


@value
class Leaving(Value):
    """What would leave the house with a pseudonymous bundle, what stays, what could be guessed.

    `texts` are the words that travel as they stand; names in them are the sender's to take out.
    """

    leaves: tuple[str, ...]
    texts: tuple[str, ...]
    recognisable: tuple[str, ...]
    stays: tuple[str, ...]

    def __repr__(self) -> str:
        parts = (
            ("Leaves:", self.leaves),
            ("Words that leave as they stand, for you to look through:", self.texts),
            ("Could still be recognised:", self.recognisable),
            ("Stays:", self.stays),
        )
        return "\n".join(
            line for head, items in parts if items for line in (head, *(f"  {x}" for x in items))
        )


def tell_leaving(
    study: Study, audit: Audit, coarse: Steps | None = None, keep: Collection[str] = ()
) -> Leaving:
    """Return what a pseudonymous bundle of this study would carry and what it would not."""
    steps, s = coarse or Steps(), study.settings
    ledger = read_history(study.folder).there
    declared = (study.folder / DECLARED_FILE).exists()
    mends = (study.folder / MENDS_FILE).exists()
    return Leaving(
        leaves=(
            f"{audit.n_read} rows of {count(len(study.files), 'file')}, those set aside as such: "
            "hours, dates, ending, cause, build standard, kind of meter",
            f"{steps.said}; other figures to three digits",
            "a pseudonym for each engine, source and part; files by number",
            "of a note or a column not used, the word of trouble in it",
            f"columns of words: {', '.join(s.categories.columns) or 'none'}; levels known, "
            "names as pseudonyms",
            "the study's settings, but those listed below",
            "of the answers, what coarsening did to each; how many engines stand alone",
        ),
        texts=tuple(_texts(study, audit, keep)),
        recognisable=tuple(_recognisable(audit, steps)),
        stays=(
            "engine serials, sources, owners and every column the study does not use",
            "notes, names of files and component serials",
            *(("the ledger of earlier looks; how many it holds is told",) if ledger else ()),
            *(("what was declared before the records were drawn",) if declared else ()),
            *(("the mends with their reasons; the lives hold what they say",) if mends else ()),
            *(
                f"setting {k}"
                for k in (*LEFT_OUT, *(k for k in FREE if k not in keep))
                if k in study.chosen
            ),
        ),
    )


def _texts(study: Study, audit: Audit, keep: Collection[str]) -> Iterator[str]:
    """Yield the words that leave as they stand: of settings, of heads, of builds."""
    for table in fields(study.settings):
        keys = getattr(study.settings, table.name)
        for f in fields(keys):
            path = f"{table.name}.{f.name}"
            if path in keep and getattr(keys, f.name):
                yield f"{path}: {getattr(keys, f.name)}"
    causes = sorted({c for c in named_causes(study) if c})
    if "question.causes" in study.chosen and causes:
        yield f"causes that the study names: {', '.join(causes)}"
    builds = sorted({r.build for r in audit.used if r.build})
    if builds:
        yield f"builds: {', '.join(builds)}"
    heads = [h for f in study.files for h in f.columns.values()]
    if heads:
        yield f"heads of mapped columns: {', '.join(dict.fromkeys(heads))}"


def _recognisable(audit: Audit, steps: Steps) -> Iterator[str]:
    """Yield what a reader who knows the fleet could still tell."""
    yield f"engines, by whoever knows their hours to {steps.hours_h} h and dates to the " + (
        f"{steps.dates}; the bundle counts those that stand alone"
    )
    for label in ("build", "source"):
        engines: dict[str, set[str]] = defaultdict(set)
        for r in audit.used:
            engines[getattr(r, label)].add(r.engine_id)
        few = {k: len(v) for k, v in engines.items() if k and len(v) < FEW}
        if few and len(engines) > 1:
            named = listed([f"{k} ({count(n, 'engine')})" for k, n in sorted(few.items())])
            yield f"engines of a small {label}: {named}"
    causes = Counter(r.cause for r in audit.used if r.cause)
    once = sorted(c for c, n in causes.items() if n == 1)
    if once:
        yield f"engines with a cause told of once: {listed(once)}"
