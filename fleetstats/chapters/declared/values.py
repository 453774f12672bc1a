"""The values of the chapter on what was declared."""

from __future__ import annotations

from fleetstats.core.value import Value, value
from fleetstats.vocabulary.caution import Caution


@value
class ToldDeclaration(Value):
    """One version of the declaration.

    Parameters
    ----------
    number : int
        From 1.
    declared : str
        Day on which it was declared.
    looks, looks_at_these : int
        Looks at this fleet that were written down by then; those of them at records up to the date
        declared, or later.
    changed : int
        Settings that it declares otherwise than the version before.
    digest : str
        SHA-256 of the version.
    """

    number: int
    declared: str
    looks: int
    looks_at_these: int
    changed: int
    digest: str


@value
class DeclaredChange(Value):
    """One setting that is not as it was declared.

    Parameters
    ----------
    key : str
        Its path in the study file.
    was, now : str
        What was declared, and what holds.
    since : str
        When it was changed: declared anew on a day, or never.
    turns : bool
        Whether it can turn the verdict on what was declared.
    doc : str
        Meaning of the setting.
    """

    key: str
    was: str
    now: str
    since: str
    turns: bool
    doc: str = ""


@value
class DeclaredQuestion(Value):
    """What was declared of a study, and what is otherwise now.

    Parameters
    ----------
    versions : tuple of ToldDeclaration
        All that were declared, the first first.
    held : int
        Number of the version that the study is held against: the last before the first look at
        these records; the first of all where none was before it.
    on : str
        The day of that version.
    late : int
        Looks at these records before that version.
    lay_there : tuple of str
        Record files that lay in the folder as they are now when it was declared.
    ledger_lost : bool
        Whether the ledger of looks does not hold what it held when a version was declared.
    changes : tuple of DeclaredChange
        Those that can turn the verdict first.
    sentences, prompt_lines : tuple of str
        The same in words: for the chapter, and in one line for a first page and a prompt.
    identity : str
        What the report's number takes in of it.
    """

    versions: tuple[ToldDeclaration, ...]
    held: int
    on: str
    late: int
    lay_there: tuple[str, ...]
    ledger_lost: bool
    changes: tuple[DeclaredChange, ...]
    sentences: tuple[str, ...] = ()
    prompt_lines: tuple[str, ...] = ()
    identity: str = ""
    cautions: tuple[Caution, ...] = ()

    _not_in_dict = ("identity",)

    @property
    def before(self) -> bool:
        """Return whether it was declared before the records were seen, by what was written."""
        return not self.late and not self.lay_there

    @property
    def turning(self) -> tuple[DeclaredChange, ...]:
        """Return the changes that can turn the verdict."""
        return tuple(c for c in self.changes if c.turns)
