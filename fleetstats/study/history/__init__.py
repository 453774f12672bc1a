"""The ledger of looks: one line of `history.jsonl` for each run that answered on the records."""

from fleetstats.study.history.append import Appended, append_look, copy_history
from fleetstats.study.history.chain import (
    FOUND_EARLIER,
    HISTORY_FILE,
    Ledger,
    ledger_in,
    read_history,
)
from fleetstats.study.history.look import LedgerLook, chosen_of, digest_data, rounded, start_look

__all__ = [
    "FOUND_EARLIER",
    "HISTORY_FILE",
    "Appended",
    "Ledger",
    "LedgerLook",
    "append_look",
    "chosen_of",
    "copy_history",
    "digest_data",
    "ledger_in",
    "read_history",
    "rounded",
    "start_look",
]
