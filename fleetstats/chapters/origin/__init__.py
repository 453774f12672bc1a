"""What a pseudonymous study tells of the one that it was made from."""

from fleetstats.chapters.origin.chapter import chapter_origin
from fleetstats.chapters.origin.values import OriginTold
from fleetstats.chapters.origin.words import (
    answer_rows,
    say_account,
    say_declared_there,
    say_replaced,
    say_unlike,
    unique_rows,
)

__all__ = [
    "OriginTold",
    "answer_rows",
    "chapter_origin",
    "say_account",
    "say_declared_there",
    "say_replaced",
    "say_unlike",
    "unique_rows",
]
