"""What a report says of repeated looks, in sentences of its own."""

from __future__ import annotations

from fleetstats.advice.looks.look import ThisLook
from fleetstats.study.look_settings import PERIODS


def say_share(p: float) -> str:
    """Write a small chance with two digits at most: "0.053 %".

    >>> say_share(0.00053), say_share(0.05), say_share(0.1724)
    ('0.053 %', '5 %', '17 %')
    """
    return f"{float(f'{100.0 * p:.2g}'):g} %"


def say_look(look: ThisLook) -> str:
    """Say which look a verdict is, and by which rule its error is held; blank for one alone."""
    n, all_looks = look.number, say_share(look.alpha)
    if look.rule == "spending":
        if look.planned == 1:
            return ""
        return (
            f"This is look {n} of {look.planned} planned, {PERIODS[look.every]}: for either word "
            f"to be wrong in at most {all_looks} over all of them, this look is held to "
            f"{say_share(look.level)}."
        )
    if look.rule == "any-number":
        return (
            f"The edges hold at every look, however many (this is look {n}): over all of them "
            f"either word is wrong in at most {all_looks}."
        )
    if look.rule == "past-plan":
        return (
            f"{look.planned} looks were planned and this is look {n}: the {all_looks} are used up, "
            "and the edges are those that hold at every look, so that over all looks either word "
            f"is wrong in up to {say_share(look.at_most)}."
        )
    return ""


def say_rule(look: ThisLook) -> str:
    """Say in a few words how error is held over looks, for a table."""
    if look.rule == "spending":
        return f"look {look.number} of {look.planned}, held to {say_share(look.level)}"
    if look.rule == "any-number":
        return f"look {look.number}, edges that hold at every look"
    if look.rule == "past-plan":
        return f"look {look.number}, past the {look.planned} planned"
    return f"look {look.number}, without a plan" if look.number > 1 else ""
