"""Which settings of two studies differ: keys, maps, rules and treatments, and those of each file.

Files of the two studies are told apart by what they are, not by where they stand: last year's
return and this year's of one sender are read by their own descriptions, which are compared.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from fleetstats.core.value import Value, value
from fleetstats.study.assumptions import text_value
from fleetstats.study.key import FACT
from fleetstats.study.leaves import Leaf, leaves_of
from fleetstats.study.study import RecordFile, Study

NOT_COMPARED = ("study.title", "study.analysis_date", "study.asked_by", "study.decided_by")
"""Settings in which two studies of one fleet are meant to differ."""

LISTS = ("question.rules", "merge.decisions")
"""Settings that hold rules one after the other; they are compared as they read, not by number."""

READING = ("question", "hours", "treat", "merge", "records")
"""Tables that say how records are read and what their endings count as."""

WORDS = (".endings.", ".kinds.", ".causes.", ".columns.")
"""Maps of a file."""

ABSENT = "not there"


@value
class SettingChange(Value):
    """One setting that differs between two studies."""

    key: str
    before: str
    after: str

    @property
    def reads(self) -> bool:
        """Return whether it says how records are read or what their endings count as."""
        return self.key.partition(".")[0] in READING

    @property
    def redefines(self) -> bool:
        """Return whether lives answer another question for it, or on another clock."""
        return self.key.startswith(("question.", "hours.")) or any(w in self.key for w in WORDS)


def compare_settings(old: Study, new: Study) -> tuple[SettingChange, ...]:
    """Return the settings whose values differ, title and dates of the study apart.

    A map or rule that one study has and the other lacks is a change, and so is a rule that stands
    in another place, since the first that matches decides.
    """
    pairs = match_files(old, new)
    was = {k: x for x in leaves_of(old) if (k := _key(x, dict(pairs)))}
    own = {i: i for i, _ in enumerate(new.files, 1)}
    now = {k: x for x in leaves_of(new) if (k := _key(x, own))}
    names = {i: f.file for i, f in enumerate(new.files, 1)}
    gone = {i: f.file for i, f in enumerate(old.files, 1)}
    out = []
    for key in dict.fromkeys([*was, *now]):
        before, after = was.get(key), now.get(key)
        if before is not None and after is not None and before.value == after.value:
            continue
        if after is None and before is not None and not before.departs:
            continue
        if before is None and after is not None and not after.departs:
            continue
        told = after or before
        assert told is not None
        file = names.get(told.number, "") if after is not None else gone.get(told.number, "")
        shown = f"records.{file}.{key[2]}" if told.number else key[2]
        out.append(
            SettingChange(key=shown, before=_text(before, after), after=_text(after, before))
        )
    return (*out, *(c for name in LISTS for c in _lists(name, old, new)))


def match_files(old: Study, new: Study) -> tuple[tuple[int, int], ...]:
    """Return numbers of files, from 1, that are one file or one sender's return in both studies."""
    left = dict(enumerate(old.files, 1))
    free = dict(enumerate(new.files, 1))
    pairs: list[tuple[int, int]] = []

    def same(f: RecordFile, *names: str) -> tuple[Any, ...]:
        return tuple(getattr(f, n) for n in names)

    for names in (("file", "sheet"), ("shape", "source"), ("shape",)):
        for i, f in list(left.items()):
            twins = [j for j, g in free.items() if same(f, *names) == same(g, *names)]
            mine = [k for k, g in left.items() if same(f, *names) == same(g, *names)]
            if len(twins) == 1 and len(mine) == 1:
                pairs.append((i, twins[0]))
                del left[i], free[twins[0]]
    return tuple(sorted(pairs))


def _key(leaf: Leaf, numbers: dict[int, int]) -> tuple[str, int, str] | None:
    """Return what a setting is compared by; None where it is not, or is compared as a list."""
    if leaf.key in NOT_COMPARED or leaf.key.partition("[")[0] in LISTS:
        return None
    if not leaf.number:
        return ("study", 0, leaf.key)
    name = leaf.key.partition("].")[2]
    if leaf.role == FACT and name in ("file", "source"):
        return None
    if leaf.number in numbers:
        return ("both", numbers[leaf.number], name)
    return ("alone", leaf.number, name)


def _text(leaf: Leaf | None, other: Leaf | None) -> str:
    """Return a value as text; with all digits where rounded ones would look alike."""
    if leaf is None:
        return ABSENT
    text = text_value(leaf.value)
    return repr(leaf.value) if other is not None and text == text_value(other.value) else text


def _lists(name: str, old: Study, new: Study) -> Iterator[SettingChange]:
    """Yield what differs in a list of rules: those that are gone, those that are new, the order."""
    table, _, key = name.partition(".")
    before = [text_value(x) for x in getattr(getattr(old.settings, table), key)]
    after = [text_value(x) for x in getattr(getattr(new.settings, table), key)]
    for text in before:
        if text not in after:
            yield SettingChange(key=name, before=text, after=ABSENT)
    for text in after:
        if text not in before:
            yield SettingChange(key=name, before=ABSENT, after=text)
    if before != after and sorted(before) == sorted(after):
        yield SettingChange(key=name, before="in one order", after="in another, which decides")
