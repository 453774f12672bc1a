"""Records: files are dropped, columns and words get their meaning by a choice."""

from __future__ import annotations

from functools import partial
from typing import Any

from fleetstats.core.errors import DataError
from fleetstats.desk.files import keep_file
from fleetstats.desk.place import DeskPlace, Sent
from fleetstats.desk.sheets import FIELDS_OF, SheetSeen, see_sheet
from fleetstats.desk.standing import Standing
from fleetstats.desk.words import words
from fleetstats.study.edit import add_file, set_key, unset_key
from fleetstats.study.record_settings import SHAPES
from fleetstats.study.scaffold import toml_text
from fleetstats.study.study import RecordFile
from fleetstats.tables.open_table import WORKBOOKS
from fleetstats.vocabulary.slugs import suffix_of

LIFE_SHAPES = tuple(FIELDS_OF)


def show(place: DeskPlace, form: Sent) -> dict[str, Any]:
    """Return the files of the study, each as read."""
    del form
    now = place.reader.stand()
    sheets: list[SheetSeen] = []
    unread: list[tuple[int, RecordFile, str]] = []
    more: list[tuple[str, str]] = []
    if now.study is not None:
        named = {(f.file, f.sheet) for f in now.study.files}
        for i, file in enumerate(now.study.files, start=1):
            table = now.tables.get((file.file, file.sheet))
            if table is None:
                unread.append((i, file, now.unread.get((file.file, file.sheet), "")))
                continue
            sheets.append(see_sheet(i, file, table, now.study.settings))
        for file in {f.file: f for f in now.study.files}.values():
            first = (file.file, "") in named
            for n, name in enumerate(_sheets_of(file)):
                if (file.file, name) not in named and not (first and n == 0):
                    more.append((file.file, name))
    return {"sheets": sheets, "unread": unread, "more": more, "shapes": SHAPES}


def drop(place: DeskPlace, form: Sent) -> str:
    """Keep the files that were dropped, and name each in the study file."""
    if not form.files:
        raise DataError(words("records", "no_file"))
    told = []
    version = form.version
    for name, data in form.files:
        kept, new = keep_file(place.desk.folder, name, data)
        now = place.reader.stand()
        named = now.study is not None and any(f.file == kept for f in now.study.files)
        if named:
            told.append(words("records", "there_already", name=kept))
            continue
        said = f"study.toml: [[records]] file = {toml_text(kept)}"
        place.desk.edit(version, said, partial(add_file, keys={"file": kept}))
        version = place.desk.version()
        told.append(words("records", "kept" if new else "named", name=kept))
    return " ".join(told)


def sheet(place: DeskPlace, form: Sent) -> str:
    """Name another sheet of a workbook in the study file."""
    file, name = form.text("file"), form.text("sheet")
    now = place.reader.stand()
    known = [f for f in (now.study.files if now.study else ()) if f.file == file]
    if not known or name not in _sheets_of(known[0]):
        raise DataError(words("frame", "no_such_form"))
    said = f"study.toml: [[records]] file = {toml_text(file)}, sheet = {toml_text(name)}"
    place.desk.edit(form.version, said, lambda t: add_file(t, {"file": file, "sheet": name}))
    return words("records", "sheet_added", name=name)


def shape(place: DeskPlace, form: Sent) -> str:
    """Say what a row of a file stands for."""
    number, told = form.whole("number"), form.text("shape")
    if told not in SHAPES:
        raise DataError(words("frame", "no_such_form"))
    _set(place, form, number, "shape", told)
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
    now, file = _file(place, number)
    table = now.tables.get((file.file, file.sheet))
    at = form.whole("column")
    if table is None or at >= len(table.header):
        raise DataError(words("frame", "no_such_form"))
    head = table.header[at]
    mapped = next((k for k, v in file.columns.items() if v.strip() == head.strip()), "")
    if ours and ours not in {f.name for f in FIELDS_OF.get(file.shape, ())}:
        raise DataError(words("frame", "no_such_form"))
    if not ours and not mapped:
        return words("records", "no_change")

    def change(text: str) -> str:
        if mapped and mapped != ours:
            text = unset_key(text, ("records", number, "columns", mapped))
        return set_key(text, ("records", number, "columns", ours), head) if ours else text

    said = f"study.toml, {file.file}: [records.columns] "
    said += f"{ours} = {toml_text(head)}" if ours else f"{mapped}: {words('frame', 'taken_out')}"
    place.desk.edit(form.version, said, change)
    return words("records", "column_set", head=head, ours=ours or words("records", "by_itself"))


def word(place: DeskPlace, form: Sent) -> str:
    """Say what a word of the records means; blank takes the study's say back."""
    number, name, told = form.whole("number"), form.text("map"), form.text("word")
    meaning = form.text("meaning")
    now, file = _file(place, number)
    table = now.tables.get((file.file, file.sheet))
    seen = see_sheet(number, file, table, now.study.settings) if table and now.study else None
    words_seen = next((t for t in seen.tables if t.map == name), None) if seen else None
    if words_seen is None or (meaning and meaning not in words_seen.choices):
        raise DataError(words("frame", "no_such_form"))
    own = next((k for k in getattr(file, name) if k == told), told)
    path: tuple[str | int, ...] = ("records", number, name, str(own))
    if meaning:
        said = f"{toml_text(own)} = {toml_text(meaning)}"
        place.desk.edit(form.version, f"study.toml, {file.file}: [records.{name}] {said}",
                        lambda t: set_key(t, path, meaning))  # fmt: skip
    else:
        said = f"{toml_text(own)}: {words('frame', 'taken_out')}"
        place.desk.edit(form.version, f"study.toml, {file.file}: [records.{name}] {said}",
                        lambda t: unset_key(t, path))  # fmt: skip
    return words("records", "word_set", word=told, meaning=meaning or words("records", "by_itself"))


ACTS = {
    "drop": drop,
    "sheet": sheet,
    "shape": shape,
    "header": header,
    "source": source,
    "column": column,
    "word": word,
}


def _file(place: DeskPlace, number: int) -> tuple[Standing, RecordFile]:
    now = place.reader.stand()
    if now.study is None or not 1 <= number <= len(now.study.files):
        raise DataError(words("frame", "no_such_form"))
    return now, now.study.files[number - 1]


def _set(place: DeskPlace, form: Sent, number: int, key: str, value: Any) -> None:
    _, file = _file(place, number)
    said = f"study.toml, {file.file}: {key} = {toml_text(value)}"
    place.desk.edit(form.version, said, lambda t: set_key(t, ("records", number, key), value))


def _sheets_of(file: RecordFile) -> tuple[str, ...]:
    """Return the names of a workbook's sheets; none where it is no workbook or cannot be read."""
    if suffix_of(file.file) not in WORKBOOKS:
        return ()
    from fleetstats.tables.table import TableError
    from fleetstats.tables.xlsx_table import list_sheets

    try:
        return list_sheets(file.path, file.file)
    except (TableError, OSError):
        return ()
