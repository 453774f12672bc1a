"""Words of trouble: which texts of a record hint at a failure, and which say that there was none.

The list is wide on purpose. A word too many costs a row of the ledger of trouble, which a reader
passes over; a word too few loses a failure.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Final, NamedTuple

from fleetstats.vocabulary.endings import CAUSE_AS_ENDING, ENDINGS_BY_WORD
from fleetstats.vocabulary.events import EVENTS_BY_WORD, PLANNED_CAUSES
from fleetstats.vocabulary.fields.headers import meaning_of
from fleetstats.vocabulary.fold import fold

FAILURE: Final = "failure"
"""Grade of words that say that something failed."""

SIGN: Final = "sign"
"""Grade of words that say that something was wrong, which need not have been a failure."""

FAILURE_WORDS = (
    "fail(?:ed|s|ure|ures|ing)?",
    "s(?:ei|ie)z(?:ed|es|ure|ing)?",
    "broke|broken|breakage|breakdown",
    "brok[ae]n?down",
    "burst",
    "exploded",
    "holed|hole in (?:the )?(?:piston|case|crankcase|block)",
    "threw (?:a )?(?:con ?)?rod|thrown (?:con ?)?rod|(?:con ?)?rod through|rod thrown",
    "dropped (?:a )?valve|valve dropped|swallowed (?:a )?valve",
    "fractured?",
    "sheared",
    "snapped",
    "shattered",
    "disintegrated",
    "let go",
    "blew up|blown up",
    "engine (?:stopped|quit|out)|stopped in flight",
    "shut ?down in flight|in ?flight shut ?down",
    "(?:loss of|lost|total loss of) (?:all )?power|power loss",
    "forced landing|dead ?stick",
    "kaputt|gebrochen|ausgefallen|ausfall|motorausfall|motorschaden|panne|casse|cassée?",
    "versagt|versagen|fresser|kolbenfresser|festgefressen",
    "défaillance|défaillante?|rupture|rompue?|grippée?|grippage",
    "avería|averia|averiad[oa]|fall[oó] de|falló|fallad[oa]|gripad[oa]",
    "roto|rotura|(?:biela|v[aá]lvula|pieza) rota",
    "guast[oa]|avaria|rott[oa]|rottura|grippat[oa]",
    "storing|motorstoring|kapot|uitgevallen|vastgelopen|gebroken",
)
"""Words that say that something failed, as `fold` has them; each a pattern of whole words."""

SIGN_WORDS = (
    "crack(?:s|ed|ing)?",
    "metal|swarf|chips|shavings|ferrous|filings",
    "(?:low|no|poor|lost|zero) compression",
    "compressions? (?:low|lost|poor|down)",
    "(?:low|poor|bad) leak ?down",
    "back in service|returned to service",
    "beyond limits|out of limits|below limits",
    "defect(?:s|ive)?",
    "unserviceable",
    "damaged?",
    "burn[et]d? valve|burnt (?:exhaust )?valve|burned (?:exhaust )?valve|stuck valve|valve stuck",
    "scored|scuffed|spalled|spalling|galled",
    "knocking|rod knock",
    "making metal",
    "riss|risse|defekt|fissuré?",
)
"""Words that say that something was wrong."""

HARMLESS = (
    "all metal",
    "sheet metal",
    "metal (?:prop(?:eller)?s?|blades?|cowl(?:ing)?s?|tank|airframe|wings?|bladed)",
    "fail ?safe",
    "chips? detector",
)
"""Phrases in which such a word means something else."""

_FILLERS = (
    "signs?|evidence|traces?|indications?|reports?|of|any|an?|the|further|more|other|visible|"
    "engines?|in|flight|yet|ever|has|have|had|been|found|reported|known|was|were|is|are|them|"
    "these|single|internal|external|new|longer|to|or|nor|detected|seen|did|do|does"
)
_NOT = (
    r"(?:no(?! ?\.? ?\d)|not|none|never|nil|without|neither|nor|zero|free (?:of|from)|nothing|"
    r"keine?|nicht|ohne|sans|aucune?|pas de|sin|senza|nessun[oa]?|ningun[oa]?|geen|niet)"
)
_ANY = "|".join((*FAILURE_WORDS, *SIGN_WORDS))
_WORDS = {
    FAILURE: re.compile(rf"\b(?:{'|'.join(FAILURE_WORDS)})\b"),
    SIGN: re.compile(rf"\b(?:{'|'.join(SIGN_WORDS)})\b"),
}
_PHRASES = re.compile(rf"\b(?:{'|'.join(HARMLESS)})\b")
_LACK = re.compile(r"\b(?:no|zero) compressions?\b")
# "no metal or cracks": what a "no" denies goes on over "or", not over "but" or a comma
_DENIED = re.compile(
    rf"\b(?:{_NOT}|(?:did|has|have|was|were|is|are|does|do)n['’]?t)\b"
    rf"(?: (?:{_FILLERS}))*(?: (?:{_ANY})\b(?: (?:or|nor|and no)(?: (?:{_FILLERS}))*"
    rf"(?= (?:{_ANY})\b))?)+"
)
_NONE_AFTER = re.compile(rf"\b(?:{_ANY})\b ?[:=]? ?(?:none|nil|no|never|0|found none)$")
_CLAUSES = re.compile(
    r",(?!\d)|[;!?()\[\]{}|\n]|\.(?!\d)| but | then | however | until | after which "
)
_SLASH = re.compile(r"(?<=[a-z])/(?=[a-z])")
_HOURS = re.compile(
    r"(?<![\d.,/])(\d[\d.,]*) ?(?:h|hr|hrs|hour|hours|tt|ttsn|tsn|tt?af|smoh|tso)\b"
)
_AT = re.compile(r"(?:\bat|@|\bafter) ?(\d[\d.,]*)(?![\d.,/]| ?/| \d\d \d\d)")
_STEMS = (
    "fail", "seiz", "siez", "brok", "break", "burst", "explo", "hole", "threw", "thrown", "through",
    "drop", "swallow", "fractur", "shear", "snap", "shatter", "disinteg", "let", "blew", "blown",
    "stop", "quit", "shut", "power", "forced", "stick", "crack", "metal", "swarf", "chip", "shav",
    "ferrous", "filing", "compression", "leak", "service", "limit", "defect", "damage", "burn",
    "kaputt", "gebroch", "ausf", "ausgef", "schaden", "panne", "casse", "cass\u00e9", "riss",
    "defekt", "versag", "fresse", "d\u00e9faillan", "ruptur", "rompu", "gripp", "gripa",
    "aver\u00ed", "averia", "fall\u00f3", "fallo", "fallad", "roto", "rota", "rotura",
    "guast", "avaria", "rott", "storing", "kapot", "uitgevallen", "vastgelop", "gebrok",
    "fissur", "stuck", "scor", "scuff", "spall", "gall", "knock", "out",
)  # fmt: skip
# full-width letters and ligatures fold to plain ones, so texts with them are looked at one by one
MAY_HINT = rf"(?i){'|'.join(_STEMS)}|[\x{{FB00}}-\x{{FB06}}]|[\x{{FF00}}-\x{{FF5E}}]"
"""A regular expression (RE2) for whole columns: a text that it does not match never hints."""

FINE = ("ok", "okay", "fine", "good", "normal", "serviceable", "airworthy", "healthy", "routine",
        "clean", "no trouble", "no fault", "no faults", "no issues")  # fmt: skip
"""What clubs write as the cause of an engine that has nothing."""

NO_FAULT_CAUSES = frozenset(
    {fold(w) for w in (*CAUSE_AS_ENDING, *PLANNED_CAUSES, *FINE, "retired")}
    | {w for w, (e, _) in ENDINGS_BY_WORD.items() if e in ("running", "lost", "modified")}
    | {w for w, k in EVENTS_BY_WORD.items() if k not in ("failed", "finding", "unscheduled")}
)
"""Words, folded, that are no fault of an engine where they stand as its cause."""


_LETTER = re.compile("[a-zA-Z]")
_MAY = re.compile("|".join(_STEMS), re.IGNORECASE)


def may_hint(text: str) -> bool:
    """Return whether a text may hint; False is certain, and quick to come by.

    >>> may_hint("failed at 766 h"), may_hint("annual inspection")
    (True, False)
    """
    return not text.isascii() or _MAY.search(text) is not None


def has_letters(text: str) -> bool:
    """Return whether a text has letters; figures and dates alone never hint.

    >>> has_letters("2026-01-08"), has_letters("2026-01-08 crack")
    (False, True)
    """
    return not text.isascii() or _LETTER.search(text) is not None


class Hint(NamedTuple):
    """What a text hints at: the grade of its worst word, that word as folded, and hours told."""

    grade: str
    word: str
    hours_h: float | None


@lru_cache(maxsize=65_536)
def hint_of(text: str) -> Hint | None:
    """Return what a text of the records hints at, or None where no word of trouble stands in it.

    A word that the same clause denies does not hint: "no metal", "no crack found", "not failed".

    >>> hint_of("failed at 766 h, back in service")
    Hint(grade='failure', word='failed', hours_h=766.0)
    >>> hint_of("plug clean, no metal or cracks") is None
    True
    """
    plain = _PHRASES.sub(" ", _SLASH.sub(" or ", fold(text)))
    found: dict[str, tuple[str, str]] = {}
    for clause in _CLAUSES.split(f" {plain} "):
        said = " ".join(_LACK.sub("low compression", clause).split())
        said = _NONE_AFTER.sub(" ", _DENIED.sub(" ", said))
        for grade, words in _WORDS.items():
            hit = words.search(said)
            if hit:
                found.setdefault(grade, (hit.group(), clause))
    for grade in (FAILURE, SIGN):
        if grade in found:
            word, clause = found[grade]
            return Hint(grade, word, _hours(clause))
    return None


def names_failure(header: str) -> bool:
    """Return whether the head of a column says that its cells tell of failures."""
    hint = hint_of(header)
    return hint is not None and hint.grade == FAILURE


def _hours(clause: str) -> float | None:
    """Return the hours that a clause names, where it names one figure only."""
    told = _HOURS.findall(clause) or _AT.findall(clause)
    figures = {h for t in told if (h := _figure(t.rstrip(".,"))) is not None}
    return figures.pop() if len(figures) == 1 else None


def _figure(word: str) -> float | None:
    if re.fullmatch(r"\d{1,3}(?:,\d{3})+(?:\.\d+)?", word):
        word = word.replace(",", "")
    try:
        return float(word.replace(",", "."))
    except ValueError:
        return None


def says_failure(text: str) -> bool:
    """Return whether a free text says that an engine failed.

    >>> says_failure("engine failed in cruise"), says_failure("not failed"), says_failure("sold")
    (True, False, False)
    """
    hint = hint_of(text)
    return hint is not None and hint.grade == FAILURE


def ending_by_itself(text: str) -> tuple[str, str] | None:
    """Return the ending, and the cause it implies, that a text means without any map.

    None where the vocabulary does not hold it and it does not say that an engine failed.
    """
    known = meaning_of(text, ENDINGS_BY_WORD)
    if known is None and says_failure(text):
        return ("failed", "")
    return known


def event_by_itself(text: str) -> str | None:
    """Return the event of a log that a text means without any map, as `ending_by_itself` does."""
    known = meaning_of(text, EVENTS_BY_WORD)
    return "failed" if known is None and says_failure(text) else known
