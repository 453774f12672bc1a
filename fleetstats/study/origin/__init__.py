"""What a pseudonymous study says of the one that it was made from."""

from fleetstats.study.origin.told import (
    ANSWERS,
    ORIGIN_FILE,
    UNIQUE_BY,
    AnswerTold,
    StudyOrigin,
    UniqueTold,
    Unlike,
    parse_origin,
    read_origin,
    write_origin,
)

__all__ = [
    "ANSWERS",
    "ORIGIN_FILE",
    "UNIQUE_BY",
    "AnswerTold",
    "StudyOrigin",
    "UniqueTold",
    "Unlike",
    "parse_origin",
    "read_origin",
    "write_origin",
]
