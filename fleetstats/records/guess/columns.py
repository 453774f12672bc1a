"""What each column of a sheet means, from its head and from its cells."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from fleetstats.records.guess.guess import LIKELY, OPEN, SURE, Guess
from fleetstats.records.guess.profile import Profile
from fleetstats.records.guess.shapes import FIELDS_OF, heads_of, kind_of_field
from fleetstats.records.trouble.scan import PLAIN_NO
from fleetstats.tables.columns import field_words
from fleetstats.vocabulary.capitals import small
from fleetstats.vocabulary.endings import ENDINGS_BY_WORD
from fleetstats.vocabulary.events import EVENTS_BY_WORD
from fleetstats.vocabulary.fields.field import Field
from fleetstats.vocabulary.fields.headers import meaning_of, plain_name
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.tongues.bare import bare
from fleetstats.vocabulary.tongues.ends import ENDING_OF, EVENT_OF, OVERHAULED
from fleetstats.vocabulary.tongues.heads import HEAD_FILLERS
from fleetstats.vocabulary.trouble import names_failure
from fleetstats.vocabulary.wording import count

LEAST_SCORE: Final = 0.45
"""Score of 1 from which on a column is taken for one of ours."""

MOST_SCORE: Final = 2.0
"""Score of a column of which somebody said what it is; above all that are guessed."""

NAME_WEIGHT: Final = 0.7
"""What the head counts beside the cells, which count the rest."""

MISFIT: Final = 0.4
"""What is left of a score where the cells are nothing of the kind."""

PART_COVERED: Final = 0.5
"""Share of a head that a known name must cover for a part of it to be believed."""

LEAST_IDS: Final = 5
LEAST_KNOWN: Final = 0.6
"""Share of cells whose words are known, from which on a column without a name is believed."""

LONG_WORD: Final = 6
FEW_WORDS: Final = 60
MOST_ASKED: Final = 200
"""Different words of a column that are asked whether they are known, the commonest first."""

_OVERHAUL = {bare(w) for w in OVERHAULED}
_TRIED_FOR = {"number": "numbers", "date": "dates", "id": "serials", "word": "words",
              "prose": "texts", "flag": "yes and no"}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadFit:
    """How well a column is one of ours: by its head, by its cells, in all; and why."""

    field: Field
    column: Profile
    name: float
    cells: float
    score: float
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """The columns of a sheet under one shape: our name to its place, and the fits."""

    shape: str
    index: dict[str, int]
    fits: dict[str, HeadFit]
    others: dict[str, tuple[HeadFit, ...]]


def match_heads(
    shape: str, columns: Sequence[Profile], given: Mapping[str, str] | None = None
) -> Columns:
    """Find which column is which under a shape; each column and each name is used once.

    `given` names columns of ours with the heads that are said to be theirs, which are not guessed.
    """
    fits = [f for c in columns for f in _said(shape, c, given or {}) or _fits(shape, c)]
    order = {f.name: i for i, f in enumerate(FIELDS_OF[shape])}
    fits.sort(key=lambda f: (-f.score, order[f.field.name], f.column.at))
    index: dict[str, int] = {}
    taken: dict[str, HeadFit] = {}
    for f in fits:
        if f.score < LEAST_SCORE or f.field.name in index or f.column.at in index.values():
            continue
        index[f.field.name] = f.column.at
        taken[f.field.name] = f
    others = {
        n: tuple(f for f in fits if f.field.name == n and f.column.at != index.get(n))
        for n in order
    }
    return Columns(shape=shape, index=index, fits=taken, others=others)


def _said(shape: str, column: Profile, given: Mapping[str, str]) -> list[HeadFit]:
    """Return the one fit of a column of which it was said what it is."""
    ours = next((o for o, head in given.items() if head.strip() == column.head), "")
    return [
        HeadFit(field=f, column=column, name=1.0, cells=1.0, score=MOST_SCORE, why="it was said so")
        for f in FIELDS_OF[shape]
        if ours and f.name == ours
    ]


def _fits(shape: str, column: Profile) -> list[HeadFit]:
    named = _named(shape, column)
    out = []
    for field in FIELDS_OF[shape]:
        name, why = named.get(field.name, (0.0, ""))
        cells = _cells(kind_of_field(field), column)
        if name:
            score = NAME_WEIGHT * name + (1 - NAME_WEIGHT) * cells
            score *= MISFIT if cells < 0.1 and column.n else 1.0
        else:
            score, why = _by_cells(field, column)
        if score > 0:
            out.append(
                HeadFit(field=field, column=column, name=name, cells=cells, score=score, why=why)
            )
    return out


def _named(shape: str, column: Profile) -> dict[str, tuple[float, str]]:
    """Return how far a head is the name of each column of ours, and why."""
    out: dict[str, tuple[float, str]] = {}
    known = heads_of(shape)

    def note(ours: str, score: float, why: str) -> None:
        if score > out.get(ours, (0.0, ""))[0]:
            out[ours] = (score, why)

    heads = [(column.head, 1.0)]
    if column.above and bare(column.above) != bare(column.head):
        heads.append((f"{column.above} {column.head}", 0.97))
    for head, weight in heads:
        plain = bare(head)[:80]
        if not plain:
            continue
        for k, ours in enumerate(known.get(plain, ())):
            note(ours, weight * (1.0 - 0.1 * k), f"'{head}' is a name of it")
        words = plain.split()
        length = max(1, len(" ".join(w for w in words if w not in HEAD_FILLERS)))
        grams = {" ".join(words[i : i + n]) for n in range(1, 5) for i in range(len(words) - n + 1)}
        for gram in sorted(grams & known.keys()):
            covered = min(1.0, len(gram) / length)
            for k, ours in enumerate(known[gram]):
                note(
                    ours, weight * (0.4 + 0.5 * covered - 0.05 * k), f"'{gram}' stands in '{head}'"
                )
        if len(words) <= 2:
            for word, may in known.items():
                if len(word) >= LONG_WORD and " " not in word and word in plain:
                    covered = min(1.0, len(word) / length)
                    note(may[0], weight * (0.3 + 0.5 * covered), f"'{word}' stands in '{head}'")
    return out


def _cells(kind: str, p: Profile) -> float:
    """Return how far the cells are what a kind of column holds, from 0 to 1."""
    if not p.n:
        return 0.5
    s: Callable[[str], float] = lambda k: p.share.get(k, 0.0)  # noqa: E731
    few = len(p.texts) <= FEW_WORDS or p.distinct <= 0.2
    match kind:
        case "id":
            return s("id") + (s("number") if p.whole else 0.0) + 0.4 * s("word")
        case "number":
            return s("number")
        case "date":
            years = p.whole and p.low >= 1950 and p.high <= 2100
            return s("date") + (0.7 * s("number") if years else 0.0)
        case "flag":
            zero_one = p.whole and p.low in (0, 1) and p.high in (0, 1)
            return s("flag") + (0.8 * s("number") if zero_one else 0.0)
        case "list":
            return (s("word") + s("flag") + 0.5 * s("id") + 0.2 * s("prose")) * (
                1.0 if few else 0.3
            )
        case "word":
            return s("word") + 0.7 * s("id") + 0.7 * s("flag") + 0.5 * s("prose")
        case "code":
            codes = s("word") + s("id") + s("flag") + (0.6 * s("number") if p.whole else 0.0)
            return codes * (1.0 if few else 0.3)
        case _:
            return 1.0 - 0.5 * s("number") - 0.5 * s("date")


def _by_cells(field: Field, p: Profile) -> tuple[float, str]:
    """Return how far the cells alone say what a column is, and why."""
    if not p.n:
        return 0.0, ""
    if field.name in ("ending", "kind") and len(p.texts) <= FEW_WORDS:
        share = known_share(field.name, p.texts)
        if share >= LEAST_KNOWN and p.share.get("flag", 0.0) < 0.5:
            return 0.3 + 0.3 * share, f"{share:.0%} of its cells are words for it"
    if field.name == "engine" and len(p.texts) >= LEAST_IDS and p.filled >= 0.9:
        ids = p.share.get("id", 0.0)
        if ids >= 0.8 and p.distinct >= 0.1:
            return 0.3 + 0.2 * ids * p.distinct, "its cells are serials"
    return 0.0, ""


def known_share(name: str, texts: Counter[str]) -> float:
    """Return the share of cells whose word is a known ending (or event, where `name` is kind)."""
    words: Mapping[str, object] = EVENTS_BY_WORD if name == "kind" else ENDINGS_BY_WORD
    abroad = EVENT_OF if name == "kind" else ENDING_OF
    n = sum(
        k for t, k in texts.most_common(MOST_ASKED)
        if meaning_of(t, words) or bare(t) in abroad or bare(t) in _OVERHAUL
    )  # fmt: skip
    return n / sum(texts.values()) if texts else 0.0


def guess_columns(found: Columns, columns: Sequence[Profile]) -> tuple[Guess, ...]:
    """Return a guess for each column that was found, and an open one for each that is lacking."""
    out = []
    firsts: dict[str, int] = {}
    for c in columns:
        firsts.setdefault(plain_name(c.head), c.at)
    reader = field_words(FIELDS_OF[found.shape])
    taken = Counter(reader.get(plain_name(c.head), "") for c in columns)
    twice = frozenset(ours for ours, n in taken.items() if n > 1)
    for field in FIELDS_OF[found.shape]:
        fit = found.fits.get(field.name)
        others = found.others[field.name]
        heads = tuple(dict.fromkeys(f.column.head for f in others if f.column.head))[:4]
        if fit is not None:
            out.append(_stated(fit, heads, reader, firsts, twice))
        elif field.required:
            out.append(_lacking(field, heads, found, columns))
    return tuple(out)


def _stated(
    fit: HeadFit,
    others: tuple[str, ...],
    reader: Mapping[str, str],
    firsts: Mapping[str, int],
    twice: frozenset[str],
) -> Guess:
    c, name = fit.column, fit.field.name
    plain = plain_name(c.head)
    sure = SURE if fit.name >= 0.95 and fit.cells >= 0.5 else LIKELY
    part = 0.0 < fit.name < 0.4 + 0.5 * PART_COVERED
    reason = f"{fit.why}; {_seen(c)}"
    if not plain or not c.head.isprintable():
        sure, reason = OPEN, f"{reason}; the column has no name to state: give it one in the file"
    elif firsts[plain] != c.at:
        sure, reason = OPEN, f"{reason}; another column has the same name: rename one in the file"
    elif part or (c.n and fit.cells < 0.3):
        sure = OPEN
    # two heads that the reader takes for one column of ours need a word on which is meant
    known = reader.get(plain) == name and sure != OPEN and name not in twice
    return Guess(
        what=name,
        value=c.head,
        reason=reason,
        sure=sure,
        alternatives=(c.head, *(h for h in others if h != c.head)) if sure == OPEN else others,
        n_rows=c.n,
        effect="the column is not used"
        if sure == OPEN
        else f"{c.n} of {c.n_rows} rows have a cell",
        samples=c.samples,
        known=known,
    )


def _lacking(
    field: Field, heads: tuple[str, ...], found: Columns, columns: Sequence[Profile]
) -> Guess:
    kind = kind_of_field(field)
    taken = set(found.index.values())
    free = [c for c in columns if c.at not in taken and c.head and _cells(kind, c) >= 0.6]
    return Guess(
        what=field.name,
        value="",
        reason=f"no column is plainly this: {small(field.doc.split('.')[0])}",
        sure=OPEN,
        alternatives=tuple(dict.fromkeys((*heads, *(c.head for c in free))))[:6],
        n_rows=columns[0].n_rows if columns else 0,
        effect="no row is read without it",
    )


def unused_columns(found: Columns, columns: Sequence[Profile]) -> tuple[Guess, ...]:
    """Return the heads that nothing is made of, with what their cells seem to be."""
    taken = set(found.index.values())
    return tuple(_unused(c) for c in columns if c.at not in taken and (c.head or c.n))


def _unused(c: Profile) -> Guess:
    """Return what is said of a column that is not used; one that tells of failures is left open."""
    told = c.n if names_failure(c.head) and _says_yes(c) else 0
    return Guess(
        what=c.head or f"column {c.at + 1}",
        value="",
        reason=f"its head tells of failures, and {count(told, 'cell')} "
        f"{'are' if told > 1 else 'is'} filled"
        if told
        else _seen(c),
        sure=OPEN if told else LIKELY,
        n_rows=c.n,
        effect="no life counts them; the ledger of trouble lists their rows" if told else "",
        samples=c.samples,
    )


def _says_yes(c: Profile) -> bool:
    """Return whether any cell of a column says more than no."""
    return any(fold(t) not in PLAIN_NO for t in c.texts)


def _seen(c: Profile) -> str:
    """Say what a column's cells look like."""
    if not c.n:
        return "its cells are empty"
    kind, share = max(c.share.items(), key=lambda kv: (kv[1], kv[0]))
    if share < 0.5:
        return "its cells are of several kinds"
    return f"{share:.0%} of its cells are {_TRIED_FOR[kind]}"
