"""Say in lines of text what verifying a bundle found."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from fleetstats.core.screen import screen_line
from fleetstats.core.units import text_number
from fleetstats.report.bundle.figures import Difference

MOST_SHOWN = 20
MOST_NAMED = 8
HEADS = {
    "unaltered": "Unaltered: its list is the one that was vouched for, and every file of it agrees "
    "with a new run.",
    "agrees": "Agrees with itself; nothing outside vouches for it.",
    "not-vouched": "NOT VOUCHED FOR: every file that could be judged agrees, but no key that was "
    "given signed the list.",
    "in-part": "AGREES IN PART: the figures come out again, but not all of the bundle can be "
    "judged with what is installed here.",
    "altered": "ALTERED: the bundle is not what its inputs, its list or what was expected of it "
    "make it.",
    "differs": "DIFFERS: a new run, with other versions, gives other figures; whether somebody "
    "changed them or the versions do so cannot be told here.",
    "cannot-run": "CANNOT BE RUN: no figure could be checked.",
}


def tell_verification(found: Any) -> str:
    """Return the text; nothing that came out of the bundle can steer a terminal."""
    return "\n".join(screen_line(line) for line in _lines(found))


def _lines(v: Any) -> Iterator[str]:
    yield HEADS[v.verdict]
    yield f"Bundle of '{v.name}', list digest {v.digest}"
    if v.figures_digest:
        yield f"SHA-256 of its results.json, as its brief prints it: {v.figures_digest}"
    yield from _seals(v)
    for word, names in (
        ("altered", v.altered), ("missing", v.missing), ("unexpected", v.extra),
        ("there twice", v.doubled), ("not as made again", v.faces_altered),
    ):  # fmt: skip
        yield from _some(f"  {word}: {n}" for n in names)
    for why in dict.fromkeys(v.faces_why):
        names = [n for n, w in zip(v.faces_unjudged, v.faces_why, strict=True) if w == why]
        yield f"  not judged whole, since {why}: {_names(names)}"
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
            "The zip around the files is not to the byte as this program packs them: it was "
            "packed anew, or something was put into it."
        )
    yield from (f"  other here: {x}" for x in v.versions)
    yield from _what_helps(v)
    if v.faces_equal and not (v.missing or v.doubled):
        yield "Page, PDF, tables and pictures: the same to the byte."
    elif v.faces_differing and not v.faces_altered:
        yield f"Not the same to the byte: {_names(v.faces_differing)}"
    if v.verdict == "agrees" and not v.seals:
        yield "Ask its maker for the digest on another way, and give it with --expect."


def _what_helps(v: Any) -> Iterator[str]:
    """Yield what to do where the bundle was made by something else than what is installed."""
    if not v.versions or v.good:
        return
    told = {x.split(" ", 1)[0] for x in v.versions}
    if told == {"the"}:
        yield (
            "The program here says the same version, but its own files are others. Verify with the "
            "state of the program that made the bundle, or ask its maker for a new bundle."
        )
    else:
        yield "To judge all of it, verify where the versions that its list tells are installed."


def _seals(v: Any) -> Iterator[str]:
    """Yield what each good signature says: of a key, never of a person."""
    good = [s for s in v.seals if s.state == "good"]
    for s in good:
        comment = f" (“{s.comment}” in its key file)" if s.comment else ""
        if s.given:
            yield f"Signed by the key {s.key}{comment}, which was given. ({s.where})"
        elif v.unsigned:
            yield f"Signed by the key {s.key}, which is none of those given. ({s.where})"
        else:
            yield (
                f"It bears a signature by the key {s.key}; whether you trust that key is yours to "
                f"say, with --by. ({s.where})"
            )
    if v.unsigned and not v.seals:
        yield "It bears no signature: it was never signed, or its signature was taken out."


def _difference(d: Difference) -> str:
    by = "" if d.relative is None else f" (by {text_number(d.relative)} of it)"
    return f"  {d.path}: bundled {d.bundled}, now {d.now}{by}"


def _names(names: Sequence[str]) -> str:
    more = len(names) - MOST_NAMED
    return ", ".join(names[:MOST_NAMED]) + (f" and {more:,} more (--json lists all)" * (more > 0))


def _some(lines: Iterator[str]) -> Iterator[str]:
    more = 0
    for i, line in enumerate(lines):
        if i < MOST_SHOWN:
            yield line
        else:
            more += 1
    if more:
        yield f"  … and {more:,} more (--json lists all)"
