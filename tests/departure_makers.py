"""Makers of the cautions on settings that turn what tells of a failure; see `caution_makers`."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from caution_makers import Maker, maker

from fleetstats.chapters.departures.rules import caution_mapped
from fleetstats.records.undone import Undone
from fleetstats.study.key import VERDICT
from fleetstats.study.leaves import Leaf
from fleetstats.vocabulary.caution import Caution


def of_map(table: str, words: int = 1) -> Maker:
    """Return a maker: each word of a map turned one row, or none."""

    def make(over: bool) -> Iterable[Caution]:
        leaves = [
            Leaf(key=f"records[1].{table}.w{i}", value="lost", default="", role=VERDICT,
                 file="a.csv", number=1, name=f"w{i}")
            for i in range(words)
        ]  # fmt: skip
        n = int(over)
        maps = {1: {f"{table}.w{i}": Undone(n=1, turned=n, failures=n) for i in range(words)}}
        return caution_mapped(leaves, maps, {})

    return make


def of_key(key: str, value: Any = None) -> Maker:
    """Return a maker: a key of the question turned one life, or none."""

    def make(over: bool) -> Iterable[Caution]:
        leaf = Leaf(key=f"question.{key}", value=value, default=None, role=VERDICT)
        undone = Undone(n=1, turned=int(over), failures=int(over), causes={"piston": 1})
        return caution_mapped([leaf], {}, {key: undone})

    return make


RULE = {"ending": "failed", "counts_as": "excluded", "reason": "why"}
CASES = {
    "ending": of_map("endings"),
    "cause": of_map("causes"),
    "column": of_map("columns"),
    "many": of_map("endings", words=4),
    "rule": of_key("rules[1]", RULE),
    "causes": of_key("causes"),
    "censoring": of_key("censoring_causes"),
    "outside": of_key("outside_causes"),
    "unknown-cause": of_key("unknown_cause"),
    "together": of_key("together"),
}
for case, make in CASES.items():
    maker(f"failing-word-mapped/{case}")(make)
