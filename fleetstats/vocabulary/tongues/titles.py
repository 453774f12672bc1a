"""Words of titles that say up to which day a sheet goes, in six languages (common practice)."""

from __future__ import annotations

AS_OF = (
    "as of", "as at", "status of", "status at", "state of", "position at", "position as of",
    "records to", "complete to", "up to", "valid at",
    "stand", "stand vom", "stand am", "stand zum", "stand per", "per stand", "stichtag",
    "état au", "état du", "situation au", "arrêté au", "à la date du", "à jour au",
    "situación a", "situación al", "estado a", "estado al", "a fecha de", "a fecha", "datos a",
    "datos al", "actualizado a", "actualizado al", "actualizado el",
    "situazione al", "stato al", "aggiornato al", "alla data del",
    "stand per", "stand op", "situatie op", "peildatum", "bijgewerkt tot",
)  # fmt: skip
"""Each stands before a date; "printed on" and "founded in" are none of them."""
