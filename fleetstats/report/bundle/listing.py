"""What a bundle's own list says besides digests, judged against what it lies with."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from fleetstats.report.bundle.chains import flaws_of_chains
from fleetstats.report.bundle.environment import wrong_in_environment
from fleetstats.report.bundle.pack import list_text
from fleetstats.report.bundle.strict import read_strict
from fleetstats.report.bundle.unpack import Unpacked
from fleetstats.study.origin import ORIGIN_FILE

KEYS = {"schema", "name", "command", "seed", "environment", "origin", "files"}


def flaws_of_list(bundle: Unpacked, seed: int | None) -> tuple[str, ...]:
    """Return what the list says that cannot be so.

    Parameters
    ----------
    bundle : Unpacked
        The bundle.
    seed : int or None
        The seed of the study in it; None where the study could not be read.
    """
    return tuple(_flaws(bundle, bundle.listed, seed))


def _flaws(bundle: Unpacked, listed: Mapping[str, Any], seed: int | None) -> Iterator[str]:
    if bundle.list_doubled:
        yield f"In its list the key '{bundle.list_doubled[0]}' stands twice."
    elif not _as_we_write(bundle):
        yield "Its list is not written as we write it."
    if set(listed) != KEYS:
        yield f"Its list has other keys than ours: {', '.join(sorted(set(listed) ^ KEYS))}."
    if listed.get("command") != f"fleetstats study {bundle.name}":
        yield "The command in its list is not the one that makes the report."
    if seed is not None and listed.get("seed") != seed:
        yield f"Its list tells of seed {listed.get('seed')}, its study of {seed}."
    wrong = wrong_in_environment(listed.get("environment"))
    if wrong:
        yield f"In its list, {wrong}."
    for name, told in bundle.listed["files"].items():
        data = bundle.members.get(name)
        if set(told) != {"sha256", "size_bytes"} or (
            data is not None and told["size_bytes"] != len(data)
        ):
            yield f"What its list says of '{name}' is not its size and digest."
    yield from _of_origin(bundle, listed.get("origin"))
    yield from flaws_of_chains(bundle.members)


def _as_we_write(bundle: Unpacked) -> bool:
    try:
        return list_text(bundle.listed) == bundle.list_text
    except UnicodeEncodeError:  # half a character, which JSON may spell and no text can hold
        return False


def _of_origin(bundle: Unpacked, origin: object) -> Iterator[str]:
    """Yield what cannot be so in what is said of files that stayed at home.

    It is its maker's word: only that the study in the bundle says the same can be judged.
    """
    member = bundle.members.get(f"study/{ORIGIN_FILE}")
    try:
        told = {} if member is None else read_strict(member).content
    except ValueError:
        told = None
    if told is None or list_text({"origin": told}) != list_text({"origin": origin}):
        yield "What its list says of its origin is not what its study says."
