"""The ledger of trouble: each row that hints at a failure, and where it was counted."""
