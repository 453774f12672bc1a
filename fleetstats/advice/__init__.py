"""Every rule that decides: five answers, the overhaul band, the verdict."""
