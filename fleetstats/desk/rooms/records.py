"""Records: files are dropped and guessed; columns and words get their meaning by a choice."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from fleetstats.core.errors import DataError, SettingError
from fleetstats.desk.files import keep_file
from fleetstats.desk.matching.asks import NO_RECORDS, OpenThing, asks_of, find_ask
from fleetstats.desk.matching.guesses import FolderGuess
from fleetstats.desk.matching.named import NamedFile, named_files, raw_study, stated
from fleetstats.desk.matching.sheets import HEADS_OF, see_sheet
from fleetstats.desk.place import DeskPlace, Sent
from fleetstats.desk.standing import Standing
from fleetstats.desk.words import words
from fleetstats.records.guess.kept import count_guesses, drop_open, keep_guesses
from fleetstats.records.guess.study import plain_name
from fleetstats.records.guess.write import FLAGS, STOPPING, add_sheets, study_text
from fleetstats.study.edit import add_file, remove_file, set_key, unset_key
from fleetstats.study.record_settings import SHAPES
from fleetstats.study.scaffold import toml_text
from fleetstats.study.study import MAX_FILES


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordsView:
    """The study file, what it names, how it stands, what was guessed, and what is open."""

    text: str
    raw: dict[str, Any]
    named: tuple[NamedFile, ...]
    now: Standing
    guess: FolderGuess
    asks: tuple[OpenThing, ...]


def view_of(place: DeskPlace) -> RecordsView:
    """Return what the room works on."""
    try:
        text = place.desk.text() or ""
    except SettingError:
        text = ""
    raw = raw_study(text)
    named, now = named_files(raw), place.reader.stand()
    meter = stated(raw, "hours.meter")
    guess = place.guesses.look(named, meter if isinstance(meter, str) else "")
    return RecordsView(text=text, raw=raw, named=named, now=now, guess=guess,
                       asks=asks_of(guess, now, raw))  # fmt: skip


def show(place: DeskPlace, form: Sent) -> dict[str, Any]:
    """Return the files of the study, each as supplied, guessed and read."""
    del form
    v = view_of(place)
    seen = [(f, see_sheet(f, v.now)) for f in v.guess.files]
    return {
        "sheets": [s for _, s in seen if s is not None],
        "unread": [
            (f.named, v.now.unread.get((f.named.file, f.named.sheet), ""))
            for f, s in seen if s is None
        ],
        "more": v.guess.more,
        "shapes": SHAPES,
        "sheet_names": {n.number: f"{n.place}:" for n in v.named},
        "asks": v.asks,
        "unkept": {n.number: count_guesses(v.text, n.number) for n in v.named},
        "audit": v.now.audit,
        "today": dt.date.today().isoformat(),
        "excused": _excused(v),
    }  # fmt: skip


def _excused(v: RecordsView) -> bool:
    """Return whether what is wrong with the study file is asked on the page, and nothing else."""
    asked = [a for a in v.asks if a.stops and a.table in ("study", "file", "hours", "merge")]
    return bool(v.now.wrong) and len(v.now.wrong) <= len(asked)


def drop(place: DeskPlace, form: Sent) -> str:
    """Keep the files that were dropped, and write what they most likely mean."""
    if not form.files:
        raise DataError(words("records", "no_file"))
    here = {n.file for n in named_files(raw_study(place.desk.text()))}
    told, fresh, new = [], [], []
    for name, data in form.files:
        kept, is_new = keep_file(place.desk.folder, plain_name(_last(name)), data)
        new += [kept] if is_new else []
        if kept in here or kept in fresh:
            told.append(words("records", "there_already", name=kept))
            continue
        fresh.append(kept)
        told.append(words("records", "kept" if is_new else "named", name=kept))
    if fresh:
        try:
            told += _take(place, form.version, fresh, len(here))
        except (DataError, SettingError):
            for kept in new:  # what is no part of the study is not left behind
                (place.desk.folder / kept).unlink(missing_ok=True)
            raise
    return " ".join(told)


def _last(told: str) -> str:
    return told.replace("\\", "/").rpartition("/")[2].strip()


def _take(place: DeskPlace, version: str, names: list[str], n_here: int) -> list[str]:
    """Write guessed files into the study file, which is begun where there is none."""
    guessed = place.guesses.begin(names)
    if len(guessed.sheets) + n_here > MAX_FILES:
        raise SettingError(words("records", "too_many", most=MAX_FILES))
    title = place.desk.folder.name.strip() or words("frame", "untitled")
    begun = place.desk.text() is None
    said = ", ".join(toml_text(s.place) for s in guessed.sheets)
    place.desk.edit(
        version,
        words("records", "act_begun" if begun else "act_added", files=said),
        lambda t: study_text(guessed, title=title) if begun else add_sheets(t, guessed),
        unfinished=True,
    )
    return [words("records", "passed", place=p.place, reason=p.reason) for p in guessed.passed]


def sheet(place: DeskPlace, form: Sent) -> str:
    """Name another sheet of a workbook in the study file."""
    file, name = form.text("file"), form.text("sheet")
    v = view_of(place)
    if (file, name) not in {(f, s) for f, s, _ in v.guess.more}:
        raise DataError(words("frame", "no_such_form"))
    said = f"study.toml: [[records]] file = {toml_text(file)}, sheet = {toml_text(name)}"
    place.desk.edit(form.version, said, lambda t: add_file(t, {"file": file, "sheet": name}))
    return words("records", "sheet_added", name=name)


def remove(place: DeskPlace, form: Sent) -> str:
    """Take a file or sheet out of the study; the file itself stays in the folder."""
    named = _named(place, form.whole("number"))
    said = words("records", "act_removed", place=named.place)
    place.desk.edit(form.version, said, lambda t: remove_file(t, named.number), unfinished=True)
    return words("records", "removed", name=named.sheet or named.file)


def keep(place: DeskPlace, form: Sent) -> str:
    """Keep all guesses on a file that stand: somebody has looked at them."""
    named = _named(place, form.whole("number"))
    n = count_guesses(place.desk.text() or "", named.number)
    if not n:
        return words("records", "none_to_keep")
    said = words("records", "act_kept", place=named.place, n=n)
    place.desk.edit(form.version, said, lambda t: keep_guesses(t, named.number), unfinished=True)
    return words("records", "kept_guesses", n=n)


def answer(place: DeskPlace, form: Sent) -> str:
    """Answer one thing that is open, by one of the choices that it has."""
    number, table, key = form.whole("number"), form.text("table"), form.text("key")
    v = view_of(place)
    ask = find_ask(v.asks, number, table, key)
    if ask is None:
        raise DataError(words("frame", "no_such_form"))
    value = _value(ask, form)
    if value == NO_RECORDS:
        return remove(place, form)
    path: tuple[str | int, ...] = (table, key)
    where = f"[{table}] {key}"
    if number and table not in ("treat", "merge"):
        path = ("records", number, key) if table == "file" else ("records", number, table, key)
        file = next(n for n in v.named if n.number == number)
        where = f"{file.place}: {key}"
    if ask.kind == "factor":
        path = ("hours", "factors", key)
    if not number and f"{table}.{key}" in STOPPING:
        value = FLAGS[value]
    elif table == "merge":
        path, value = ("merge", "decisions"), _decided(v.raw, key, str(value))

    def change(text: str) -> str:
        out = set_key(text, path, value, comment=words("records", "chosen"))
        return drop_open(out, number, table, "factors" if ask.kind == "factor" else key)

    said = f"study.toml, {where} = {toml_text(value)}"
    # a shape may open questions that could not be asked before it
    place.desk.edit(form.version, said, change, unfinished=(table, key) == ("file", "shape"))
    shown = ask.shown(form.text("value")) or form.text("value") or toml_text(value)
    return words("records", "answered", asks=ask.asks, value=shown)


def _value(ask: OpenThing, form: Sent) -> Any:
    """Return an answer as a value of the study file; raises DataError where it is none."""
    told = form.text("value")
    if ask.kind == "date":
        try:
            return dt.date.fromisoformat(told)
        except ValueError:
            raise DataError(words("records", "no_date", told=told[:40])) from None
    if ask.kind == "factor":
        factor, low, high = (form.number(n) or 0.0 for n in ("factor", "low", "high"))
        if not 0.0 < low <= factor <= high:
            raise DataError(words("records", "no_factor"))
        return {"factor": factor, "low": low, "high": high}
    if not ask.shown(told):
        raise DataError(words("frame", "no_such_form"))
    return told


def _decided(raw: dict[str, Any], engine: str, take: str) -> list[dict[str, Any]]:
    held = stated(raw, "merge.decisions")
    reason = words("records", "chosen")
    more = {"engine": engine, "take": take, "reason": reason}
    return [*(held if isinstance(held, list) else []), more]


def shape(place: DeskPlace, form: Sent) -> str:
    """Say what a row of a file stands for."""
    number, told = form.whole("number"), form.text("shape")
    if told not in SHAPES:
        raise DataError(words("frame", "no_such_form"))
    file = _named(place, number)
    ours = {f.name for f in HEADS_OF.get(told, ())}

    def change(text: str) -> str:
        for name in file.columns.keys() - ours if ours else ():
            text = unset_key(text, ("records", number, "columns", name))
        return set_key(text, ("records", number, "shape"), told)

    said = f"study.toml, {file.file}: shape = {toml_text(told)}"
    place.desk.edit(form.version, said, change)
    return words("records", "done")


def header(place: DeskPlace, form: Sent) -> str:
    """Say in which line of a file the names of its columns stand."""
    number, row = form.whole("number"), form.whole("row")
    _set(place, form, number, "header_row", row)
    return words("records", "header_set", row=row)


def source(place: DeskPlace, form: Sent) -> str:
    """Say who sent a file."""
    _set(place, form, form.whole("number"), "source", form.text("source").strip())
    return words("records", "done")


def column(place: DeskPlace, form: Sent) -> str:
    """Say which of our columns one of the file's is; blank takes the study's say back."""
    number, ours = form.whole("number"), form.text("ours")
    v = view_of(place)
    seen = next((see_sheet(f, v.now) for f in v.guess.files if f.named.number == number), None)
    at = form.whole("column")
    if seen is None or at >= len(seen.columns):
        raise DataError(words("frame", "no_such_form"))
    head, file = seen.columns[at].head, seen.named
    mapped = next((k for k, h in file.columns.items() if h.strip() == head.strip()), "")
    if ours and ours not in {f.name for f in HEADS_OF.get(file.shape, ())}:
        raise DataError(words("frame", "no_such_form"))
    if not ours and not mapped:
        return words("records", "no_change")

    def change(text: str) -> str:
        if mapped and mapped != ours:
            text = unset_key(text, ("records", number, "columns", mapped))
        if not ours:
            return text
        text = set_key(text, ("records", number, "columns", ours), head)
        return drop_open(text, number, "columns", ours)

    said = f"study.toml, {file.file}: [records.columns] "
    said += f"{ours} = {toml_text(head)}" if ours else f"{mapped}: {words('frame', 'taken_out')}"
    place.desk.edit(form.version, said, change)
    return words("records", "column_set", head=head, ours=ours or words("records", "by_itself"))


def word(place: DeskPlace, form: Sent) -> str:
    """Say what a word of the records means; blank takes the study's say back."""
    number, name, told = form.whole("number"), form.text("map"), form.text("word")
    meaning = form.text("meaning")
    v = view_of(place)
    seen = next((see_sheet(f, v.now) for f in v.guess.files if f.named.number == number), None)
    words_seen = next((t for t in seen.tables if t.map == name), None) if seen else None
    if seen is None or words_seen is None or (meaning and meaning not in words_seen.choices):
        raise DataError(words("frame", "no_such_form"))
    file, mine = seen.named, seen.named.map(name)
    own = next((k for k in mine if k == told), told)
    path: tuple[str | int, ...] = ("records", number, name, own)
    said = f"study.toml, {file.file}: [records.{name}] {toml_text(own)}"

    def change(text: str) -> str:
        if not meaning:
            return unset_key(text, path)
        return drop_open(set_key(text, path, meaning), number, name, own)

    said += f" = {toml_text(meaning)}" if meaning else f": {words('frame', 'taken_out')}"
    place.desk.edit(form.version, said, change)
    return words("records", "word_set", word=told, meaning=meaning or words("records", "by_itself"))


ACTS = {
    "drop": drop,
    "sheet": sheet,
    "remove": remove,
    "keep": keep,
    "answer": answer,
    "shape": shape,
    "header": header,
    "source": source,
    "column": column,
    "word": word,
}


def _named(place: DeskPlace, number: int) -> NamedFile:
    named = named_files(raw_study(place.desk.text()))
    found = next((n for n in named if n.number == number), None)
    if found is None:
        raise DataError(words("frame", "no_such_form"))
    return found


def _set(place: DeskPlace, form: Sent, number: int, key: str, value: Any) -> None:
    file = _named(place, number)
    said = f"study.toml, {file.file}: {key} = {toml_text(value)}"
    place.desk.edit(form.version, said, lambda t: set_key(t, ("records", number, key), value),
                    unfinished=True)  # fmt: skip
