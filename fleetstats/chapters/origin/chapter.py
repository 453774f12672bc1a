"""The origin of a pseudonymous study, as a chapter."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import TYPE_CHECKING

from fleetstats.chapters.origin.values import OriginTold
from fleetstats.chapters.origin.words import say_replaced
from fleetstats.core.value import Value
from fleetstats.records.audit.finding import Audit
from fleetstats.study.origin import StudyOrigin, read_origin
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution

if TYPE_CHECKING:
    from fleetstats.chapters.chapter import Base


def chapter_origin(base: Base, _done: Mapping[str, Value]) -> OriginTold | None:
    """Return what the study tells of its original; None where it has none."""
    origin = read_origin(base.study.folder)
    return None if origin is None else tell_origin(origin, base.audit)


def tell_origin(origin: StudyOrigin, audit: Audit) -> OriginTold:
    """Return what is told of an original beside the account of the records here."""
    here = (audit.n_read, audit.n_used, audit.n_set_aside)
    told = tuple(origin.account[k] for k in ("read", "used", "set_aside"))
    digest = hashlib.sha256(json.dumps(origin.told, sort_keys=True).encode()).hexdigest()
    return OriginTold(
        origin=origin,
        n_read=audit.n_read,
        n_used=audit.n_used,
        n_set_aside=audit.n_set_aside,
        same_account=here == told and audit.reasons == origin.reasons,
        sentence=f"{say_replaced(origin)}.",
        cautions=caution_replaced(origin),
        identity=digest,
    )


def caution_replaced(origin: StudyOrigin | None) -> tuple[Caution, ...]:
    """Return the caution that names were replaced."""
    if origin is None:
        return ()
    told = say_replaced(origin)
    return (caution("names-replaced", value=origin.steps_said, limit="as recorded", told=told),)
