"""Say in lines of text what verifying a bundle found."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from fleetstats.core.screen import screen_line
from fleetstats.core.units import text_number
from fleetstats.report.bundle.figures import Difference

if TYPE_CHECKING:
    from fleetstats.report.bundle.verify import Verification

MOST_SHOWN = 20
HEADS = {
    "unaltered": "Unaltered: the bundle is the one whose digest was expected, and every file of it "
    "agrees with a new run.",
    "agrees": "Agrees with itself; nothing outside vouches for it.",
    "in-part": "AGREES IN PART: the figures come out again; not all of the bundle can be judged "
    "with the versions here.",
    "altered": "ALTERED: the bundle is not what its inputs and its list make it.",
    "differs": "DIFFERS: a new run, with other versions, gives other figures; changed by somebody "
    "or by the versions.",
    "cannot-run": "CANNOT BE RUN: no figure could be checked.",
}


def tell_verification(found: Verification) -> str:
    """Return the text; nothing that came out of the bundle can steer a terminal."""
    return "\n".join(screen_line(line) for line in _lines(found))


def _lines(v: Verification) -> Iterator[str]:
    yield HEADS[v.verdict]
    yield f"Bundle of '{v.name}', list digest {v.digest}"
    for word, names in (
        ("altered", v.altered), ("missing", v.missing), ("unexpected", v.extra),
        ("there twice", v.doubled), ("not as made again", v.faces_altered),
        ("not judged", v.faces_unjudged),
    ):  # fmt: skip
        yield from _some(f"  {word}: {n}" for n in names)
    yield from _some(f"  {f}" for f in v.flaws)
    if v.trouble:
        yield f"  {v.trouble}"
    if v.departures:
        yield "Its lives were made from files that stayed at home. By its maker's word alone:"
        yield from (f"  {d}" for d in v.departures)
    if v.n_figures:
        yield (
            f"{v.n_figures:,} figures: {v.n_equal:,} equal to the bit, "
            f"{v.n_within:,} within {v.tolerance:g}, {len(v.differences):,} differ."
        )
    yield from _some(_difference(d) for d in v.differences)
    if not v.wrapped_alike:
        yield (
            "The zip around the files is not to the byte as it would be packed here: changed, "
            "packed anew, or packed by another version."
        )
    yield from (f"  other version here: {x}" for x in v.versions)
    if v.faces_equal:
        yield "Page, PDF, tables and pictures: the same to the byte."
    elif v.faces_equal is not None and not v.faces_altered:
        yield "Not the same to the byte: " + ", ".join(v.faces_differing[:8])
    if v.verdict == "agrees":
        yield "Ask its maker for the digest on another way, and give it with --expect."


def _difference(d: Difference) -> str:
    by = "" if d.relative is None else f" (by {text_number(d.relative)} of it)"
    return f"  {d.path}: bundled {d.bundled}, now {d.now}{by}"


def _some(lines: Iterator[str]) -> Iterator[str]:
    more = 0
    for i, line in enumerate(lines):
        if i < MOST_SHOWN:
            yield line
        else:
            more += 1
    if more:
        yield f"  … and {more:,} more (--json lists all)"
