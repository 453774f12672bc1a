"""Words for months: English, German, French, Spanish, Italian, Dutch; full and short."""

from __future__ import annotations

from fleetstats.vocabulary.fold import fold

_WORDS = (
    "jan january januar jänner janvier janv enero ene gennaio gen januari",
    "feb february februar feber février fevrier févr fevr fév febrero febbraio februari",
    "mar march märz maerz mär mrz mars marzo maart mrt",
    "apr april avril avr abril abr aprile",
    "may mai mayo maggio mag mei",
    "jun june juni juin junio giugno giu",
    "jul july juli juillet juil julio luglio lug",
    "aug august août aout agosto ago augustus",
    "sep sept september septembre septiembre settembre sett set",
    "oct october oktober okt octobre octubre ottobre ott",
    "nov november novembre noviembre",
    "dec december dezember dez décembre decembre déc diciembre dic dicembre",
)

MONTHS = {fold(w): i + 1 for i, words in enumerate(_WORDS) for w in words.split()}
"""Word for a month, as `fold` gives it = its number, from 1."""
