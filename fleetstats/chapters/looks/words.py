"""The sentences on looks made and planned."""

from __future__ import annotations

from fleetstats.advice.looks.look import ThisLook
from fleetstats.advice.looks.words import say_look, say_share
from fleetstats.vocabulary.wording import count


def looks_sentence(look: ThisLook) -> str:
    """Say how many looks were made and planned, and what an honest chance of error is."""
    told = say_look(look)
    if told:
        return told
    if look.planned == 1 and look.number == 1:
        return "One look is planned and this is it: it holds the chance of error by itself."
    return (
        f"{count(look.number, 'look').capitalize()} were made and none was planned. Each holds "
        f"{say_share(look.alpha)} by itself; were the claim exactly at its limit, one of them "
        f"would call it supported with a chance of about {say_share(look.at_most)}."
    )
