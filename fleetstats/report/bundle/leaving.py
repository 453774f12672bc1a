"""What would leave the house with a pseudonymous bundle: said before anything is written.

Pseudonyms hide names, not lives: hours to the tenth are as good as a name to whoever knows them. So
the statement also says what could still be recognised, and shows every free text that travels.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import fields

from fleetstats.core.value import Value, value
from fleetstats.records.audit.finding import Audit
from fleetstats.study.declared import DECLARED_FILE
from fleetstats.study.history import read_history
from fleetstats.study.leaves import leaves_of
from fleetstats.study.study import MENDS_FILE, Study
from fleetstats.vocabulary.wording import count, listed

LEFT_OUT = (
    "study.asked_by", "study.decided_by", "fleet.serials_file", "treat.actions", "merge.decisions",
    "categories.words", "categories.at", "clocks.doubts",
)  # fmt: skip
"""Settings that name people, engines or rows, or that have nothing left to act on."""

FEW = 5
"""Engines of a build or source below which one of them is easily recognised."""


@value
class Leaving(Value):
    """What would leave the house with a pseudonymous bundle, what stays, what could be guessed.

    `texts` are the free texts that travel as they stand; names in them are the sender's to take
    out.
    """

    leaves: tuple[str, ...]
    texts: tuple[str, ...]
    recognisable: tuple[str, ...]
    stays: tuple[str, ...]

    def __repr__(self) -> str:
        parts = (
            ("Leaves:", self.leaves),
            ("Texts that leave as they stand, for you to look through:", self.texts),
            ("Could still be recognised:", self.recognisable),
            ("Stays:", self.stays),
        )
        return "\n".join(
            line for head, items in parts if items for line in (head, *(f"  {x}" for x in items))
        )


def tell_leaving(study: Study, audit: Audit) -> Leaving:
    """Return what a pseudonymous bundle of this study would carry and what it would not."""
    s = study.settings
    ledger = read_history(study.folder).there
    declared = (study.folder / DECLARED_FILE).exists()
    mends = (study.folder / MENDS_FILE).exists()
    other = [f"file '{f.file}' ({f.shape})" for f in study.files if f.shape not in ("lives", "log")]
    return Leaving(
        leaves=(
            f"{len(audit.used)} lives: hours, ending, cause, build standard",
            "a pseudonym for each engine and source; only the holder of the key can undo it",
            "dates, coarsened to months",
            f"numeric covariates: {', '.join(s.groups.covariates) or 'none'}",
            f"columns of words: {', '.join(s.categories.columns) or 'none'}; levels known, "
            "names as pseudonyms",
            "the study's settings, but those listed below",
            "what each map and treatment of the files changed, in counts; files by number",
            "a keyed hash of each original file",
        ),
        texts=tuple(_texts(study)),
        recognisable=tuple(_recognisable(audit)),
        stays=(
            "engine serials, sources, owners and every column the study does not use",
            "notes and component serials",
            *(("the ledger of earlier looks; how many it holds is told",) if ledger else ()),
            *(("what was declared before the records were drawn",) if declared else ()),
            *(("the mends; the lives hold what they say",) if mends else ()),
            f"{audit.n_set_aside} rows set aside, and the findings about rows",
            *(f"setting {k}" for k in LEFT_OUT if k in study.chosen),
            *other,
        ),
    )


def _texts(study: Study) -> Iterator[str]:
    """Yield every chosen setting that holds words of the study's own."""
    for x in leaves_of(study):
        if x.number and x.name and x.departs:
            yield f"{x.key}: {x.value}"
    for table in fields(study.settings):
        keys = getattr(study.settings, table.name)
        for f in fields(keys):
            path = f"{table.name}.{f.name}"
            value = getattr(keys, f.name)
            if path not in study.chosen or path in LEFT_OUT or f.metadata["choices"]:
                continue
            if table.name == "hours" and f.name not in ("meter", "basis"):
                continue
            if isinstance(value, str) and value:
                yield f"{path}: {value}"
            elif isinstance(value, tuple) and any(isinstance(v, str) for v in value):
                yield f"{path}: {', '.join(str(v) for v in value)}"
            elif isinstance(value, tuple) and any(isinstance(v, dict) for v in value):
                reasons = [str(v["reason"]) for v in value if v.get("reason")]
                yield f"{path}: {count(len(value), 'rule')}; reasons: {listed(reasons) or 'none'}"


def _recognisable(audit: Audit) -> Iterator[str]:
    """Yield what a reader who knows the fleet could still tell."""
    yield "every engine, by whoever knows its hours: they travel as they were recorded"
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
