"""What a chapter is: everything that a study answers of one question, as one entry of a table."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

from fleetstats.chapters.verbs import Verb
from fleetstats.core.value import Value
from fleetstats.document.document import Section

if TYPE_CHECKING:
    from fleetstats.advice.results import Results
    from fleetstats.records.audit.finding import Audit
    from fleetstats.records.reading import Records
    from fleetstats.spells.build import Built
    from fleetstats.spells.spells import Spells
    from fleetstats.study.settings import Settings
    from fleetstats.study.study import Study
    from fleetstats.survival.fit import Fit


class Base(Protocol):
    """What a chapter with a verb needs of a study; `Results` holds the same and more."""

    @property
    def study(self) -> Study:
        """Return the study."""

    @property
    def settings(self) -> Settings:
        """Return its settings."""

    @property
    def records(self) -> Records:
        """Return its records as read."""

    @property
    def audit(self) -> Audit:
        """Return their audit."""

    @property
    def chapters(self) -> Mapping[str, Value]:
        """Return what was worked out with the lives themselves; empty but for long tables."""

    @property
    def built(self) -> Built:
        """Return its lives, with the rows behind them."""

    @property
    def spells(self) -> Spells:
        """Return its lives at risk."""

    @property
    def fit(self) -> Fit | None:
        """Return the Weibull fit, if there is one."""


def never(_: Settings) -> bool:
    """Return False, whatever the study's settings."""
    return False


def always(_: Settings) -> bool:
    """Return True, whatever the study's settings."""
    return True


Compute = Callable[[Any, Mapping[str, Value]], Value | None]
"""From `Base` (or, without a verb, `Results`) and the chapters before to a value; None: nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Chapter:
    """One question of a study.

    Parameters
    ----------
    key : str
        Its name in results, and the anchor of its section.
    stage : str
        What a waiting person is told while it is worked out.
    needs : tuple of str
        Chapters that are worked out before it.
    compute : callable, optional
        Works out its value. Chapters without one only show what others worked out.
    compose : callable, optional
        From the whole `Results` to its section, or None where there is nothing to say.
    show : callable, optional
        From its own value, and those of `beside`, to its section; in place of `compose`.
    beside : tuple of str
        Chapters whose values stand in its section too; each may be missing.
    verb : Verb, optional
        The verb that answers it alone; its value then needs no more than `Base`.
    apart : int
        Above 0: a long chapter that asks the main results and short chapters alone. It may be
        worked out beside the others, those that need it after all of these; the highest first.
    opinions : bool
        Whether it reads the libraries' opinions, which are waited for as late as can be.
    last : bool
        Whether it reads all others.
    qualifies : bool
        Whether its cautions may qualify a claim, so that a claim made alone asks it too; its value
        then needs no more than `Base`.
    brief : callable
        From settings to whether the brief then reads its value, so that a quick study works it out
        too.
    long_tables : bool
        Whether its section stands in the report of a table read by chunks too.
    annex : str
        Key of the annex in which its section stands (`document.annexes.ANNEXES`); "": the body.
    keeps : tuple of str
        What of that section stands in the body all the same, as `document.annexes.split` reads it.
    """

    key: str
    stage: str = ""
    needs: tuple[str, ...] = ()
    compute: Compute | None = None
    compose: Callable[[Results], Section | None] | None = None
    show: Callable[..., Section | None] | None = None
    beside: tuple[str, ...] = ()
    verb: Verb | None = None
    apart: int = 0
    opinions: bool = False
    last: bool = False
    qualifies: bool = False
    brief: Callable[[Settings], bool] = never
    long_tables: bool = False
    annex: str = ""
    keeps: tuple[str, ...] = ()

    def work_out(self, base: Any, done: Mapping[str, Value]) -> Value | None:
        """Return its value, from `base` and the chapters before; None where there is none."""
        return None if self.compute is None else self.compute(base, done)

    def section(self, results: Results) -> Section | None:
        """Return the section of the report; None where there is nothing to say."""
        if self.compose is not None:
            return self.compose(results)
        return self.section_of(results.chapters)

    def section_of(self, done: Mapping[str, Value]) -> Section | None:
        """Return the section from the values of chapters alone; None without its own."""
        if self.show is None or self.key not in done:
            return None
        return self.show(done[self.key], *(done.get(k) for k in self.beside))
