"""Every setting of a study with its value, chosen or default, for the report's *Assumptions*."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

from fleetstats.core.value import Value, value
from fleetstats.study.schema import FLAT_TABLES, default_of, show
from fleetstats.study.settings import Settings


@value
class Assumption(Value):
    """One setting.

    Parameters
    ----------
    key : str
        Path of the key, as ``study.confidence``.
    value, default : object
        What holds, and what would hold were the key not set.
    chosen : bool
        Whether the study file sets it.
    doc, unit : str
        Meaning and unit.
    required : bool
        Whether the study file must set it.
    """

    key: str
    value: Any
    default: Any
    chosen: bool
    doc: str
    unit: str = ""
    required: bool = False

    @property
    def text(self) -> str:
        """Return the value for a reader."""
        return text_value(self.value)

    @property
    def default_text(self) -> str:
        """Return the default for a reader."""
        return "must be given" if self.required else text_value(self.default)


def text_value(value: Any) -> str:
    """Return a setting's value in words: lists with commas, nothing as "not set"."""
    if value is None or value == "":
        return "not set"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, tuple | list):
        return ", ".join(text_value(v) for v in value) or "none"
    if isinstance(value, dict):
        return "; ".join(f"{k}: {text_value(v)}" for k, v in value.items()) or "none"
    return value if isinstance(value, str) else show(value)


def assumptions(settings: Settings, chosen: frozenset[str]) -> tuple[Assumption, ...]:
    """Return every setting of a study, tables and keys in the order of their declaration.

    The keys of the record files are not among them; they stand with the data's lineage.
    """
    out: list[Assumption] = []
    for table in fields(settings):
        keys = getattr(settings, table.name)
        for f in fields(keys):
            path = f"{table.name}.{f.name}"
            shown = table.name if FLAT_TABLES.get(table.name) == f.name else path
            out.append(
                Assumption(
                    key=shown,
                    value=getattr(keys, f.name),
                    default=default_of(f),
                    chosen=path in chosen,
                    doc=f.metadata["doc"],
                    unit=f.metadata["unit"],
                    required=f.metadata["required"],
                )
            )
    return tuple(out)
