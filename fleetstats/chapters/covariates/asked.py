"""A study that is asked for life at chosen values, in place of what its file asks."""

from __future__ import annotations

from dataclasses import replace

from fleetstats.core.errors import SettingError
from fleetstats.study.category_settings import unpaired
from fleetstats.study.study import Study


def with_asked(study: Study, pairs: tuple[str, ...]) -> Study:
    """Return the study with `categories.at` as `pairs` have it, each "name=value".

    Raises
    ------
    SettingError
        If a pair is not written so.
    """
    wrong = [f"--at {p}: write it as name=value, such as --at use=towing." for p in unpaired(pairs)]
    if wrong:
        raise SettingError("\n".join(wrong), problems=tuple(wrong))
    settings = study.settings
    categories = replace(settings.categories, at=pairs)
    return replace(
        study,
        settings=replace(settings, categories=categories),
        chosen=study.chosen | {"categories.at"},
    )
