"""Text for a terminal: the one place that says what may reach it, whoever wrote the text.

Page, paper and workbook have `plain_text` of `cells.py`; they take marks that a terminal obeys.
"""

from __future__ import annotations


def screen_text(text: str) -> str:
    r"""Return text for a terminal: nothing but what it shows and the ends of lines.

    Whatever else a record, a file's name or a bundle holds (escape sequences, bells, returns that
    overwrite a line, marks that turn its direction) is spelled out, as ``\x1b``.
    """
    if text.isprintable():
        return text
    return "\n".join(
        line if line.isprintable() else "".join(c if c.isprintable() else _spelled(c) for c in line)
        for line in text.split("\n")
    )


def screen_line(text: str) -> str:
    """Return text for one line of a terminal: as `screen_text`, and ends of lines spelled too."""
    return screen_text(text).replace("\n", "\\n")


def _spelled(letter: str) -> str:
    return letter.encode("unicode_escape", "surrogatepass").decode()
