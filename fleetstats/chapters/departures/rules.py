"""The cautions on maps, rules and lists of causes that turn what tells of a failure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from fleetstats.chapters.departures.words import of_what, ours
from fleetstats.records.undone import Undone
from fleetstats.study.leaves import Leaf
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.wording import count, listed

MOST_WORDS = 3
"""Words of maps that have a caution each; of more, one caution names the first."""

MOST_CAUSES = 4
"""Causes named in the caution on those not in question."""


def caution_mapped(
    leaves: Sequence[Leaf],
    maps: Mapping[int, Mapping[str, Undone]],
    question: Mapping[str, Undone],
    *,
    lives: bool = True,
) -> tuple[Caution, ...]:
    """Return a caution for each setting that turned rows or lives which tell of a failure.

    Parameters
    ----------
    leaves : sequence of Leaf
        The departures.
    maps, question : mapping
        What they changed: by the number of the file and the map's key, and by key of the question.
    lives : bool
        Whether the question's counts are of lives; else of rows.
    """
    found = []
    for x in leaves:
        table = x.key.partition(".")[2].partition(".")[0] if x.number else ""
        undone = maps.get(x.number, {}).get(f"{table}.{x.name}")
        if undone is not None and undone.turned:
            found.append((x, table, undone))
    found.sort(key=lambda t: -t[2].turned)
    out = [_many(found)] if len(found) > MOST_WORDS else [_of_map(*f) for f in found]
    of_keys = {k: u for k, u in question.items() if u.turned}
    rules = {f"rules[{i}]": x for i, x in enumerate(
        (x for x in leaves if x.key.startswith("question.rules[")), 1)}  # fmt: skip
    for key, undone in of_keys.items():
        out.append(_of_rule(key, rules[key], undone, lives) if key in rules else
                   _of_question(key, undone, lives))  # fmt: skip
    return tuple(out)


def _rows(undone: Undone, *, lives: bool = False) -> dict[str, str]:
    """Return the fields that every sentence has."""
    one = undone.turned == 1
    return {
        "n": count(undone.turned, "life", "lives") if lives else count(undone.turned, "row"),
        "what": of_what(undone),
        "is_are": "is" if one else "are",
        "do_does": "does" if one else "do",
        "tells": "tells" if one else "tell",
    }


def _of_map(leaf: Leaf, table: str, undone: Undone) -> Caution:
    told = {**_rows(undone), "value": _rows(undone)["n"], "limit": "0 rows", "file": leaf.file}
    if table == "columns":
        return caution("failing-word-mapped/column", ours=leaf.name, **told)
    if table == "causes":
        return caution("failing-word-mapped/cause", word=leaf.name, ours=leaf.value, **told)
    return caution("failing-word-mapped/ending", word=leaf.name, ours=ours(leaf.value), **told)


def _many(found: Sequence[tuple[Leaf, str, Undone]]) -> Caution:
    words = [f"“{x.name}”" for x, _, _ in found[:MOST_WORDS]]
    n = sum(u.turned for *_, u in found)
    more = count(len(found) - MOST_WORDS, "more", "more")
    told = _rows(Undone(turned=n, failures=n))
    return caution(
        "failing-word-mapped/many", value=told["n"], limit="0 rows", words=", ".join(words),
        more=more, **told,
    )  # fmt: skip


def _of_rule(key: str, leaf: Leaf, undone: Undone, lives: bool) -> Caution:
    told = _rows(undone, lives=lives)
    return caution(
        "failing-word-mapped/rule", value=told["n"], limit=_none(lives), i=key[6:-1],
        reason=leaf.value["reason"], **told,
    )  # fmt: skip


def _of_question(key: str, undone: Undone, lives: bool) -> Caution:
    told = _rows(undone, lives=lives)
    told |= {"value": told["n"], "limit": _none(lives)}
    if key == "causes":
        named = listed([f"{c} {n}" for c, n in list(undone.causes.items())[:MOST_CAUSES]])
        more = len(undone.causes) - MOST_CAUSES
        causes = f"{named}, {more} further" if more > 0 else named or "none stated"
        return caution("failing-word-mapped/causes", causes=causes, **told)
    if key == "censoring_causes":
        it = "its cause" if undone.turned == 1 else "their causes"
        return caution("failing-word-mapped/censoring", it_them=it, **told)
    if key == "outside_causes":
        return caution("failing-word-mapped/outside", **told)
    if key == "unknown_cause":
        return caution("failing-word-mapped/unknown-cause", **told)
    return caution("failing-word-mapped/together", **told)


def _none(lives: bool) -> str:
    return "0 lives" if lives else "0 rows"
