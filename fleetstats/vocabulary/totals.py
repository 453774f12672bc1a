"""Words of lines that tell of no engine: totals, averages, signatures, ends of a list.

Whether a cell reads as such a line is asked of `reads_as_total` alone. Languages are those in which
clubs have sent tables, and their neighbours; a word is entered once, as `fold` has it.
"""

from __future__ import annotations

import re

from fleetstats.vocabulary.fold import fold

TOTAL_WORDS = (
    "total", "totals", "subtotal", "subtotals", "sum", "sums", "carried forward",
    "brought forward", "carry over",
    "summe", "summen", "gesamt", "gesamtsumme", "gesamtstunden", "insgesamt", "zwischensumme",
    "endsumme", "übertrag", "uebertrag",
    "totaux", "somme", "à reporter", "a reporter",
    "suma", "totales", "totale", "totali", "subtotale", "somma", "riporto",
    "soma", "totais", "totaal", "subtotaal", "som",
    "summa", "delsumma", "totalt", "delsum", "i alt", "ialt", "yhteensä", "yhteensa",
    "razem", "ogółem", "ogolem", "celkem", "součet", "soucet", "összesen", "osszesen",
)  # fmt: skip
"""Words that name a sum wherever they stand in a short text: "North, subtotal"."""

SUMMARY_WORDS = (
    "average", "averages", "avg", "mean", "median", "count", "number", "minimum", "maximum",
    "std dev", "standard deviation",
    "durchschnitt", "mittel", "mittelwert", "anzahl", "schnitt",
    "moyenne", "moyennes", "nombre", "promedio", "media", "média", "numero", "número",
    "gemiddelde", "aantal", "medel", "medelvärde", "medelvarde", "antal", "gennemsnit",
    "keskiarvo", "średnia", "srednia", "průměr", "prumer", "átlag", "atlag",
)  # fmt: skip
"""Words that name a summary where nothing stands beside them but `FILLERS`."""

SIGNED_WORDS = (
    "signed", "signature", "signed by", "certified", "certified by", "approved by", "checked by",
    "compiled by", "prepared by", "countersigned", "sgd", "end of list", "end of file",
    "end of table", "end of records",
    "unterschrift", "unterzeichnet", "gezeichnet", "gez", "geprüft von", "erstellt von",
    "ende der liste",
    "signé", "signé par", "signe par", "certifié", "vu et approuvé", "fin de liste",
    "firma", "firmado", "firmado por", "firmato", "assinatura", "assinado",
    "handtekening", "getekend", "underskrift", "undertecknad", "podpis", "podepsán",
    "allekirjoitus", "aláírás",
)  # fmt: skip
"""Words with which the line of a signature, or of the end of a list, begins."""

OFFICES = (
    "secretary", "treasurer", "chairman", "chairwoman", "chair", "president", "registrar",
    "vorstand", "vorsitzender", "vorsitzende", "schriftführer", "kassier", "kassenwart",
    "secrétaire", "président", "trésorier", "secretario", "presidente", "segretario",
    "sekreterare", "ordförande", "voorzitter", "penningmeester",
)  # fmt: skip
"""Offices of those who sign; beside a name, and without a digit, no serial."""

COUNTED = (
    "engine", "engines", "row", "rows", "line", "lines", "entry", "entries", "record", "records",
    "aircraft", "units", "items", "motor", "motors", "motoren", "triebwerke", "zeilen", "einträge",
    "moteurs", "lignes", "motores", "motori", "righe", "motorer", "rader", "rijen", "silniki",
)  # fmt: skip
"""What a count of a list counts: "27 engines"."""

FILLERS = (
    *COUNTED, "hours", "hrs", "h", "life", "lives", "age", "time", "fleet", "all", "of", "the",
    "per", "in", "and", "value", "stunden", "std", "der", "die", "pro", "je", "heures", "de",
    "des", "par", "horas", "ore", "di", "uren", "per motor", "timmar", "timer", "godzin",
)  # fmt: skip
"""Words that may stand beside a summary's without making a serial of it."""

_WORD = re.compile(r"[^\W\d_]+(?:'[^\W\d_]+)?")
_JOINED = re.compile(r"[^\W\d_][\-_/.#]*\d|\d[\-_/.#]*[^\W\d_]")
"""A digit joined to letters, as in a serial: "SUM-0123"."""

_SUMS = frozenset(fold(w) for w in TOTAL_WORDS)
_SIGNED = frozenset(fold(w) for w in SIGNED_WORDS)
_SUMMARIES = frozenset(fold(w) for w in SUMMARY_WORDS)
_OFFICES = frozenset(fold(w) for w in OFFICES)
_FILL = frozenset(x for w in FILLERS for x in fold(w).split())
_COUNT = re.compile(rf"^\d[\d.,' ]*\s(?:{'|'.join(map(re.escape, COUNTED))})\W*$")
LONGEST = 80
"""Longest text that is looked at, in characters; longer ones are prose."""


def reads_as_total(text: str) -> bool:
    """Return whether a cell in the place of an engine id reads as a total or a signature.

    A serial is never taken for one: a digit that is joined to letters ("SUM-0123") makes a serial,
    and a word that names only a summary ("Mean Machine") needs to stand alone.

    >>> [reads_as_total(x) for x in ("Total:", "Club North, sub-total", "27 engines", "Signed: Mo")]
    [True, True, True, True]
    >>> [reads_as_total(x) for x in ("K6-0274", "SUM-0123", "Mean Machine", "Total-7")]
    [False, False, False, False]
    """
    if not text or len(text) > LONGEST:
        return False
    plain = fold(text)
    if _COUNT.match(plain):
        return True
    words = _WORD.findall(plain)
    if not words or _JOINED.search(text):
        return False
    pairs = {" ".join(words[k : k + n]) for n in (1, 2, 3) for k in range(len(words) - n + 1)}
    starts = {" ".join(words[:n]) for n in (1, 2, 3)}
    if pairs & _SUMS or starts & _SIGNED:
        return True
    if not any(c.isdigit() for c in plain) and len(words) > 1 and _OFFICES & set(words):
        return True
    rest = set(words) - _FILL
    named = pairs & _SUMMARIES
    return bool(named) and rest <= {x for w in named for x in w.split()}


def pattern_of_totals() -> str:
    """Return a regular expression that finds every ASCII text that `reads_as_total` of, and more.

    For tests by whole columns, whose hits are then asked one by one; the syntax is that of RE2.
    """
    words = {w for w in (*_SUMS, *_SIGNED, *_SUMMARIES, *_OFFICES, *COUNTED) if w.isascii()}
    alike = sorted((re.escape(w).replace(r"\ ", r"[-_\s]+") for w in words), key=len)
    return f"(?i)(?:^|[^a-z])(?:{'|'.join(reversed(alike))})(?:[^a-z]|$)"
