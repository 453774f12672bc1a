"""A study without identities: what may travel when members' names may not.

Every record file is written anew, row by row and cell by cell: names become pseudonyms, hours and
dates go to stated steps, words that nobody needs go, and what was wrong with a row stays wrong with
it, so that a run on the new files finds what the run at home found. What no longer comes out the
same is counted and told. The originals stay at home.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
from collections import Counter
from collections.abc import Collection, Iterator
from dataclasses import replace
from pathlib import Path

from fleetstats.chapters.declared import find_standing
from fleetstats.chapters.departures import list_departures
from fleetstats.chapters.looks_made import with_looks_made
from fleetstats.core.doors.plain_files import read_plain
from fleetstats.core.errors import ReportError
from fleetstats.core.files import write_whole
from fleetstats.core.value import Value, value
from fleetstats.records.audit.audit_fleet import misspelt_causes
from fleetstats.records.audit.finding import Audit
from fleetstats.records.mends.log import write_mends
from fleetstats.records.mends.mend import ASIDE, Mend
from fleetstats.records.reading import Records
from fleetstats.records.spelling import named_causes
from fleetstats.report.bundle.hiding.answers import answers_of, compare_answers
from fleetstats.report.bundle.hiding.cells import Hider
from fleetstats.report.bundle.hiding.files import (
    OpenFile,
    Written,
    map_hours,
    open_files,
    write_file,
)
from fleetstats.report.bundle.hiding.names import Names
from fleetstats.report.bundle.hiding.steps import Steps, few_digits
from fleetstats.report.bundle.hiding.study_text import FREE, SERIALS, hide_settings
from fleetstats.report.bundle.hiding.unique import count_unique
from fleetstats.report.bundle.hiding.words import Words
from fleetstats.report.bundle.pack import study_members
from fleetstats.spells.build import Built
from fleetstats.studies.analyse import read_lives_of
from fleetstats.study.declared import DECLARED_FILE
from fleetstats.study.history import HISTORY_FILE, read_history
from fleetstats.study.origin import StudyOrigin, Unlike, write_origin
from fleetstats.study.record_settings import SHAPES
from fleetstats.study.study import MENDS_FILE, STUDY_FILE, Study, read_study
from fleetstats.tables.cells import is_blank, text
from fleetstats.tables.table import TableError
from fleetstats.vocabulary.fold import fold

KEY_BYTES = 32
REASON_AT_HOME = "a decision that stays with the originals"
ROLE_AT_HOME = "who holds the originals"
"""What stands for the reason and the role of a decision, which may name owners and engines."""


@value
class MadeStudy(Value):
    """A pseudonymous study that was made.

    Parameters
    ----------
    study : Study
        The new study, in its folder.
    origin : StudyOrigin
        What it says of the original, as it stands in its `origin.json`.
    """

    study: Study
    origin: StudyOrigin


def read_key(path: Path) -> bytes:
    """Return the key of the pseudonyms; make it, readable by its owner alone, where there is none.

    The key comes from the system's source of secrets, not from the study's seed: pseudonyms that
    anybody could draw again would hide nobody.
    """
    try:
        if path.exists():
            key = bytes.fromhex(read_plain(path, "key_bytes").decode("ascii").strip())
        else:
            key = secrets.token_bytes(KEY_BYTES)
            path.parent.mkdir(parents=True, exist_ok=True)
            write_whole(path, key.hex() + "\n", replace=False, mode=0o600)
    except (OSError, ValueError) as error:
        raise ReportError(
            f"The key file '{path.name}' cannot be used ({error}).",
            f"It holds {2 * KEY_BYTES} hexadecimal digits; name a new file to make one.",
        ) from None
    if len(key) < KEY_BYTES:
        raise ReportError(
            f"The key in '{path.name}' is too short.", f"Use {2 * KEY_BYTES} hexadecimal digits."
        )
    return key


def pseudonymous_study(
    study: Study,
    folder: Path,
    *,
    coarse: Steps | None = None,
    key: bytes | None = None,
    keep: Collection[str] = (),
) -> MadeStudy:
    """Write a study without identities into an empty folder and read it back.

    Parameters
    ----------
    study : Study
        The original.
    folder : Path
        Where the new study goes.
    coarse : Steps, optional
        Steps of hours and dates; by default whole hours and months.
    key : bytes, optional
        Secret of the pseudonyms. By default one is drawn and forgotten, so that not even the maker
        can undo them; with a kept one, the originals can be shown later to be the ones.
    keep : collection of str
        Settings of free text that leave as they stand, such as ``base_rate.source``.

    Raises
    ------
    ReportError
        If a setting to keep is none of free text, or its text holds a name of the records.
    RecordError, SettingError
        As the study itself.
    """
    steps = coarse or Steps()
    at_home = read_lives_of(study)
    names = Names(key or secrets.token_bytes(KEY_BYTES))
    try:
        files = open_files(study)
    except TableError as error:
        raise ReportError(str(error), "See 'fleetstats check' for what is wrong.") from None
    names.meet(_names(at_home[0], files))
    _check_kept(study, keep, names)
    bench = study.settings.bench
    slips = misspelt_causes(at_home[0].rows, study)  # nearly words of the study file
    own = (*named_causes(study), *slips, bench.mode, *bench.field_causes)
    words = Words(names, study.settings.question, frozenset(fold(c) for c in own if c))
    hider = Hider(study.settings, steps, names, words)
    map_hours(files, hider)
    folder.mkdir(parents=True, exist_ok=True)
    written = _write(files, hider, at_home[1], folder)
    serials = at_home[0].serials
    if serials:
        shown = sorted(names.engine(x) for x in serials)
        (folder / SERIALS).write_text("\n".join(["engine", *shown, ""]), "ascii", newline="")
    told = hide_settings(
        _with_looks(study, at_home), hider, files, written, serials=bool(serials), keep=keep
    )
    (folder / STUDY_FILE).write_text(told, encoding="utf-8", newline="")
    anew = read_study(folder)
    origin = _origin(study, anew, at_home, hider, key)
    write_origin(origin, folder)
    return MadeStudy(study=anew, origin=origin)


def _write(
    files: tuple[OpenFile, ...], hider: Hider, audit: Audit, folder: Path
) -> tuple[Written, ...]:
    out: list[Written] = []
    decided: list[Mend] = []
    for i, f in enumerate(files, start=1):
        place = (f.file.file, f.table.sheet)
        aside = {s.row: s.reason for s in audit.set_aside if (s.file, s.sheet) == place}
        out.append(write_file(f, hider, f"file-{i}.csv", aside))
        (folder / out[-1].name).write_bytes(out[-1].data)
        decided += _decided(f, out[-1], hider)
    write_mends(folder, decided)
    return tuple(out)


def _decided(f: OpenFile, written: Written, hider: Hider) -> Iterator[Mend]:
    """Yield that rows are set aside by decision, without who decided, why and on which day."""
    day = hider.settings.study.analysis_date
    digest = hashlib.sha256(written.data).hexdigest()
    for row in sorted(f.table.aside, key=lambda was: written.places[was]):
        yield Mend(
            file=written.name, digest=digest, row=written.places[row], act=ASIDE,
            why=REASON_AT_HOME, by=ROLE_AT_HOME, when="" if day is None else day.isoformat(),
        )  # fmt: skip


def _names(records: Records, files: tuple[OpenFile, ...]) -> Iterator[str]:
    """Yield every name that must not leave within a word."""
    yield from records.serials
    for f in files:
        yield f.file.source
        stem = Path(f.file.file).stem
        if fold(stem) not in SHAPES:
            yield stem
        for name in ("engine", "source", "serial", "specimen", "tester"):
            at = f.match.index.get(name)
            if at is not None:
                yield from {text(r.cells[at]) for r in f.table.rows if not is_blank(r.cells[at])}


def _check_kept(study: Study, keep: Collection[str], names: Names) -> None:
    for path in keep:
        if path not in FREE:
            raise ReportError(
                f"'{path}' is no setting of free text.", f"These are: {', '.join(FREE)}."
            )
        table, _, name = path.partition(".")
        if names.tells(str(getattr(getattr(study.settings, table), name))):
            raise ReportError(
                f"The text of '{path}' holds the name of an engine, a source or a file.",
                "Change the text in the study file, or do not keep it.",
            )


Lives = tuple[Records, Audit, Built]


def _origin(
    study: Study, anew: Study, at_home: Lives, hider: Hider, key: bytes | None
) -> StudyOrigin:
    here, audit = read_lives_of(anew), at_home[1]
    ledger = read_history(study.folder)
    steps = hider.steps
    moved = (abs(a - b) for m in hider.maps.values() for a, b in m.items() if a >= 0)
    return StudyOrigin(
        hours_step_h=steps.hours_h,
        dates=steps.dates,
        moved_h=round(max(moved, default=0.0), 1),
        account={
            "read": audit.n_read,
            "used": audit.n_used,
            "set_aside": audit.n_set_aside,
            "errors": audit.counts()["error"],
        },
        reasons=audit.reasons,
        unlike=tuple(_unlike(study, at_home, anew, here)),
        answers=compare_answers(
            answers_of(study, at_home[0], at_home[2]),
            answers_of(anew, here[0], here[2]),
            steps.hours_h,
        ),
        unique=count_unique(audit.used, here[1].used),
        # the ledger itself names sources and settings, so it stays at home
        looks={"made": ledger.n_looks, "as_written": not ledger.flaws},
        declared=_declared(study, at_home[0]),
        keyed_hashes=None if key is None else _hashes(study, key),
    )


def _declared(study: Study, records: Records) -> dict[str, object] | None:
    """Return how the original stands to what it declared, in counts; it names settings and days."""
    told = find_standing(study, records.sources, len(records.serials))
    if told is None:
        return None
    return {
        "versions": len(told.versions),
        "before": told.before,
        "changed": len(told.changes),
        "turning": len(told.turning),
    }


def _with_looks(study: Study, at_home: Lives) -> Study:
    """Return the study with the looks that its ledger counts stated, since the ledger stays.

    Otherwise a plan of looks would find a first look in every bundle.
    """
    s = with_looks_made(study, at_home[0].sources, at_home[2].spells).settings
    if s.looks == study.settings.looks:
        return study
    information = tuple(few_digits(x) for x in s.looks.information)
    s = replace(s, looks=replace(s.looks, information=information))
    stated = {"looks.made", *(("looks.information",) if information else ())}
    return replace(study, settings=s, chosen=study.chosen | stated)


def _hashes(study: Study, key: bytes) -> dict[str, str]:
    stays = (DECLARED_FILE, HISTORY_FILE, MENDS_FILE)
    members = sorted((k, v) for k, v in study_members(study).items() if k not in stays)
    return {
        f"file {i + 1}": hmac.new(key, data, hashlib.sha256).hexdigest()
        for i, (_, data) in enumerate(members)
    }


def _unlike(study: Study, at_home: Lives, anew: Study, here: Lives) -> Iterator[Unlike]:
    """Yield what the new records do not tell as often as the original."""
    for what, count in (("finding", _findings), ("reason", _reasons)):
        yield from _differing(what, count(at_home[1]), count(here[1]))
    before, after = (
        Counter(_key(d.key) for d in list_departures(s, *lives).items)
        for s, lives in ((study, at_home), (anew, here))
    )
    yield from _differing("departure", before, after)


def _differing(what: str, before: Counter[str], after: Counter[str]) -> Iterator[Unlike]:
    for code in sorted({*before, *after}):
        if before[code] != after[code]:
            yield Unlike(what=what, code=code, at_home=before[code], here=after[code])


def _findings(audit: Audit) -> Counter[str]:
    return Counter(f.code for f in audit.findings)


def _reasons(audit: Audit) -> Counter[str]:
    return Counter(audit.reasons)


def _key(path: str) -> str:
    """Return a setting's path without the names in it: ``records.endings``."""
    table, _, rest = path.partition(".")
    plain = f"{table.partition('[')[0]}.{rest.partition('.')[0]}"
    return "".join(c if c.islower() or c.isdigit() or c == "." else "-" for c in plain).strip(".-")
