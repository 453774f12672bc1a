"""How a study stands right now: what its files hold, what is odd in them, what lives they make.

Everything is worked out from the folder and kept only while the folder stays as it is, so a
decision made at a prompt shows at the next look. Tables are kept by file: a decision on findings
audits again and opens nothing again.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from fleetstats.core.errors import FleetstatsError, SettingError
from fleetstats.core.pause import collection_paused
from fleetstats.desk.in_time import its_turn
from fleetstats.desk.state import Desk
from fleetstats.study.study import RecordFile, Study, read_study
from fleetstats.tables.table import RawTable, TableError

if TYPE_CHECKING:
    from fleetstats.records.audit.finding import Audit
    from fleetstats.records.mending.propose import Proposal
    from fleetstats.records.mending.supplied import Supplied
    from fleetstats.records.reading import Records
    from fleetstats.spells.left_out import LeftOut
    from fleetstats.spells.trouble.values import Trouble
    from fleetstats.studies.single import LightBase

MOST_TABLES = 16
"""Tables kept open; more are read again."""


@dataclass(slots=True)
class Standing:
    """A study at one moment; what takes long is worked out when it is first asked for.

    Parameters
    ----------
    version : str
        Digest of its study file and its mends.
    study : Study or None
        None while the study file is missing or wrong; `wrong` then says why, sentence by sentence.
    broken, stopped : str
        Why its records cannot be read to their end, and why there is no answer; blank where not.
    """

    version: str
    study: Study | None = None
    wrong: tuple[str, ...] = ()
    tables: dict[tuple[str, str], RawTable] = field(default_factory=dict)
    unread: dict[tuple[str, str], str] = field(default_factory=dict)
    records: Records | None = None
    audit: Audit | None = None
    trouble: Trouble | None = None
    left_out: tuple[LeftOut, ...] = ()
    base: LightBase | None = None
    supplied: dict[tuple[str, str], Supplied] | None = None
    proposals: tuple[Proposal, ...] | None = None
    broken: str = ""
    stopped: str = ""

    @property
    def n_open(self) -> int:
        """Return how many failures the records hint at that no life counts."""
        return sum(x.count for x in self.left_out)


@dataclass(slots=True)
class Reader:
    """Reads a desk's folder, and remembers what has not changed.

    Each of the three looks has its lock, so that a long fit holds up no room that needs none.
    """

    desk: Desk
    tables: OrderedDict[tuple[Any, ...], RawTable | str] = field(default_factory=OrderedDict)
    last: tuple[Any, Standing] | None = None
    lock: threading.RLock = field(default_factory=threading.RLock)
    base_lock: threading.RLock = field(default_factory=threading.RLock)
    proposals_lock: threading.RLock = field(default_factory=threading.RLock)

    def stand(self) -> Standing:
        """Return how the study stands, its records read and audited where that can be."""
        with its_turn(self.lock):
            try:
                text, version = self.desk.text(), self.desk.version()
            except SettingError as error:
                return Standing(version="unreadable", wrong=(str(error),))
            if text is None:
                return Standing(version=version)
            try:
                study = read_study(self.desk.folder)
            except SettingError as error:
                return Standing(version=version, wrong=error.problems or (str(error),))
            key = (version, tuple(self._key(f) for f in study.files), _stamp_of_serials(study))
            if self.last is None or self.last[0] != key:
                self.last = key, self._read(version, study)
            return self.last[1]

    def with_base(self) -> Standing:
        """Return how the study stands with its lives and fit, or what stops it."""
        with its_turn(self.base_lock):
            now = self.stand()
            if now.base is None and not now.stopped and now.study and now.records and now.audit:
                from fleetstats.studies.analyse import build_lives
                from fleetstats.studies.single import base_of

                try:
                    built = build_lives(now.study, now.records, now.audit)
                    now.base = base_of(now.study, now.records, now.audit, built)
                except FleetstatsError as error:
                    now.stopped = str(error)
            return now

    def with_proposals(self) -> Standing:
        """Return how the study stands with its tables as supplied, and what may be mended."""
        with its_turn(self.proposals_lock):
            now = self.stand()
            if now.proposals is None and now.study and now.records and now.audit:
                from fleetstats.records.mending.propose import propose_from
                from fleetstats.records.mending.supplied import supplied_of

                now.supplied = supplied_of(now.study, now.tables)
                now.proposals = propose_from(now.study, now.supplied, now.records, now.audit)
            return now

    def _read(self, version: str, study: Study) -> Standing:
        from fleetstats.core.provenance import SourceFile, digest_file
        from fleetstats.records.audit.audit import audit_records
        from fleetstats.records.readers import Opened, read_records
        from fleetstats.spells.trouble.place import ledger_of
        from fleetstats.study.record_settings import LIFE_SHAPES

        now, opened = Standing(version=version, study=study), {}
        for file in study.files:
            table, place = self._table(file), (file.file, file.sheet)
            if isinstance(table, str):
                now.unread[place] = table
                continue
            now.tables[place] = table
            if file.shape in LIFE_SHAPES:
                source = SourceFile(name=file.file, size_bytes=file.path.stat().st_size,
                                    sha256=digest_file(file.path), rows=table.n_read)  # fmt: skip
                opened[place] = Opened(table=table, source=source, as_supplied=True)
        try:
            now.records = read_records(study, opened)
            now.audit = audit_records(study, now.records)
            now.trouble, now.left_out = ledger_of(study, now.records, now.audit)
        except FleetstatsError as error:
            now.broken = now.stopped = str(error)
        return now

    def _table(self, file: RecordFile) -> RawTable | str:
        """Return a file as a table, opened once; or why it cannot be."""
        from fleetstats.tables.open_table import open_table

        key = self._key(file)
        if key not in self.tables:
            try:
                with collection_paused():  # many cells and no cycles among them
                    self.tables[key] = open_table(file)
            except TableError as error:
                self.tables[key] = str(error.finding)
            while len(self.tables) > MOST_TABLES:
                self.tables.popitem(last=False)
        self.tables.move_to_end(key)
        return self.tables[key]

    def _key(self, file: RecordFile) -> tuple[Any, ...]:
        """Return what a file's table depends on."""
        how = (file.sheet, file.header_row, file.encoding, file.delimiter)
        return (str(file.path), *_stamp(file.path), *how)


def _stamp(path: Any) -> tuple[int, int]:
    try:
        told = path.stat()
    except OSError:
        return 0, 0
    return told.st_mtime_ns, told.st_size


def _stamp_of_serials(study: Study) -> tuple[int, int]:
    name = study.settings.fleet.serials_file
    return _stamp(study.folder / name) if name else (0, 0)
