"""One line of the table of all lives."""

from __future__ import annotations

from fleetstats.core.value import Value, value

COUNTED = "counted"
"""What `use` says of a life that is counted."""

ASIDE = "set aside: "
"""How `use` opens for one that is not, before the reason."""


@value
class LifeLine(Value):
    """A life, or a row of the records that became none.

    Parameters
    ----------
    life : str
        Number of the life, from 1; those counted come first, in the order of the spells. Blank for
        rows that became no life.
    engine, build, source : str
        As they are counted.
    file, row : str, tuple of (str, int)
        File of its last row, and every row that it rests on, each with its file, sheets in
        brackets.
    words : tuple of (str, str)
        Of each row ending (of a log: the kind of event) and cause, as written.
    meaning : str
        What they were read as.
    rule : str
        Which map, list or setting said so.
    use : str
        "counted", or "set aside: " and the reason.
    entry_h, exit_low_h, exit_high_h : float or None
        Hours at risk on the study's clock; the two ends differ for a failure that is only known to
        lie between them. None where nothing could be read.
    event : str
        failed, running, removed or competing; blank where the life is not counted.
    weight : float or None
        How many equal lives it stands for.
    """

    life: str
    engine: str
    build: str
    source: str
    rows: tuple[tuple[str, int], ...]
    words: tuple[tuple[str, str], ...]
    meaning: str
    rule: str
    use: str
    entry_h: float | None = None
    exit_low_h: float | None = None
    exit_high_h: float | None = None
    event: str = ""
    weight: float | None = None

    @property
    def counted(self) -> bool:
        """Return whether the life is counted."""
        return self.use == COUNTED

    @property
    def file(self) -> str:
        """Return the file of its rows; each row's own where they stand in several."""
        files = [f for f, _ in self.rows]
        return files[0] if len(set(files)) == 1 else ";".join(files)

    @property
    def row(self) -> str:
        """Return the numbers of its rows."""
        return ";".join(str(n) for _, n in self.rows)

    @property
    def words_said(self) -> str:
        """Return the words of its rows as one text; rows that say nothing leave a blank."""
        return ";".join(" / ".join(w for w in pair if w) for pair in self.words)
