"""A drawn figure, and each form in which it is written: by itself, without title, in a page.

It is drawn once. What differs between the forms stands in it as a field to be filled in: colours
(as they are, or as variables, so that a dark page can turn them), the begin of its identifiers (so
that two drawings in one page share none) and the spelling of a link.
"""

from __future__ import annotations

import html

from fleetstats.core.value import Value, value
from fleetstats.report.figures.scale import Scale
from fleetstats.report.figures.style import NAMES

_ALONE = {name: color for color, name in NAMES.items()} | {"id": "", "link": "xlink:href"}
"""A picture by itself; older viewers know links by this name only."""
_IN_PAGE = {name: f"var(--fig-{name})" for name in NAMES.values()} | {"link": "href"}


@value
class PanelFrame(Value):
    """Where a panel lies in the picture without its title (points from the top left), and what
    its axes span.
    """

    left: float
    top: float
    width: float
    height: float
    x: Scale
    y: Scale


@value
class Drawing(Value):
    """A drawn figure.

    Parameters
    ----------
    key : str
        The figure's.
    width_pt, height_pt : float
        Size without the title.
    title_pt : float
        Height of the title above it.
    title, body : str
        Elements of SVG, with fields; places in points from the top left, title included.
    letters : dict
        Name = outline of each letter in the body.
    title_letters : dict
        Of the title's letters.
    frames : tuple of PanelFrame
    """

    key: str
    width_pt: float
    height_pt: float
    title_pt: float
    title: str
    body: str
    letters: dict[str, str]
    title_letters: dict[str, str]
    frames: tuple[PanelFrame, ...]

    @property
    def svg(self) -> str:
        """The picture with its title, as a file."""
        letters = self.letters | self.title_letters
        return self._file(0.0, self.title_pt + self.height_pt, letters, self.title + self.body)

    @property
    def bare_svg(self) -> str:
        """The picture without its title, as a file: for pages that set the title as text."""
        return self._file(self.title_pt, self.height_pt, self.letters, self.body)

    def inline(self, prefix: str, alt: str) -> tuple[str, dict[str, str]]:
        """Return the picture without its title, to stand inside a page.

        Parameters
        ----------
        prefix : str
            Put before every identifier.
        alt : str
            What the picture shows, in words.

        Returns
        -------
        svg : str
            Element without size and letters.
        letters : dict
            Name = element of each letter used, to be kept once in the page.
        """
        width, height, top = self.width_pt, self.height_pt, self.title_pt
        svg = (
            f'<svg role="img" aria-label="{html.escape(alt)}" {_view(top, width, height)}>'
            + (_ground(top, width, height) + self.body).format_map(_IN_PAGE | {"id": prefix})
            + "</svg>"
        )
        return svg, self.inline_letters

    @property
    def inline_letters(self) -> dict[str, str]:
        """Name = element of each letter that `inline` uses."""
        return {k: _letter(k, d) for k, d in self.letters.items()}

    def _file(self, top: float, height: float, letters: dict[str, str], elements: str) -> str:
        width = self.width_pt
        return (
            '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
            f'width="{width:.7g}pt" height="{height:.7g}pt" {_view(top, width, height)}>\n<defs>'
            + "".join(_letter(k, letters[k]) for k in sorted(letters))
            + "</defs>\n"
            + (_ground(top, width, height) + elements).format_map(_ALONE)
            + "</svg>\n"
        )


def _view(top: float, width: float, height: float) -> str:
    return (
        f'viewBox="0 {top:.7g} {width:.7g} {height:.7g}" '
        'fill="none" stroke-linejoin="round"'
    )  # fmt: skip


def _ground(top: float, width: float, height: float) -> str:
    return (
        f'<rect y="{top:.7g}" width="{width:.7g}" height="{height:.7g}" fill="{{paper}}"/>\n'
    )  # fmt: skip


def _letter(name: str, outline: str) -> str:
    return f'<path id="{name}" d="{outline}"/>'
