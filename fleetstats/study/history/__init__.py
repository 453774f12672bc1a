"""The ledger of looks: one line of `history.jsonl` for each run that answered on the records."""

from fleetstats.study.history.append import Appended, append_look, copy_history
from fleetstats.study.history.chain import HISTORY_FILE, Ledger, read_history
from fleetstats.study.history.look import LedgerLook, chosen_of, digest_data, rounded, start_look

__all__ = [
    "HISTORY_FILE",
    "Appended",
    "Ledger",
    "LedgerLook",
    "append_look",
    "chosen_of",
    "copy_history",
    "digest_data",
    "read_history",
    "rounded",
    "start_look",
]
