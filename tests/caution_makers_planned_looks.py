"""Makers of cautions on repeated looks; see `caution_makers`. Figures are invented."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from advice_fleets import made_settings
from caution_makers import maker

from fleetstats.advice.looks.look import look_of
from fleetstats.chapters.looks.compute import caution_looks
from fleetstats.study.look_settings import LookKeys
from fleetstats.vocabulary.caution import Caution


def _looked(**keys: Any) -> Iterable[Caution]:
    return caution_looks(look_of(replace(made_settings(), looks=LookKeys(**keys))))


@maker("looks-unplanned")
def _(over: bool) -> Iterable[Caution]:
    return _looked(made=3 if over else 2)


@maker("looks-past-plan")
def _(over: bool) -> Iterable[Caution]:
    return _looked(planned=5, made=6 if over else 5)
