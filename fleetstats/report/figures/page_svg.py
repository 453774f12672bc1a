"""Clean-up of drawn SVG: what a page needs of it, and nothing that came from outside.

The drawing library writes every text into a comment; a name from a member's sheet must not travel
there, so comments go. Inside a page, colours become variables, so that a dark page can turn them,
and the shapes of letters are kept once for all figures.
"""

from __future__ import annotations

import re

from fleetstats.report.figures.style import NAMES

_COMMENT = re.compile(r"<!--.*?-->\n?", re.DOTALL)
_METADATA = re.compile(r"\s*<metadata>.*?</metadata>", re.DOTALL)
_GLYPH = re.compile(r'\s*<path id="(DejaVuSans[A-Za-z-]*-[0-9a-fA-F]+)"[^>]*?/>', re.DOTALL)
_LONG = re.compile(r"(?<![\w#])-?\d+\.\d{2,}")
_VIEW = re.compile(r'(<svg [^>]*?)viewBox="0 0 ([\d.]+) ([\d.]+)"', re.DOTALL)


def tidy_svg(raw: str) -> str:
    """Drop comments, metadata and the document type, and keep the rest byte for byte."""
    out = _COMMENT.sub("", raw)
    out = _METADATA.sub("", out)
    out = re.sub(r"<!DOCTYPE[^>]*>\n?", "", out, flags=re.DOTALL)
    return re.sub(r"[ \t]+\n", "\n", out)


def crop_svg(svg: str, top_pt: float, n_title_lines: int) -> str:
    """Return the picture without its title: for pages that set the title as text."""
    out = svg
    letters: list[str] = []
    for i in range(n_title_lines):
        out, dropped = _drop_group(out, f"title-{i}")
        # A letter's shape stands where it is first used; the rest of the picture still needs it.
        letters += [" ".join(m[0].split()) for m in _GLYPH.finditer(dropped)]
    if letters:
        out = re.sub(
            r"(<svg [^>]*>)",
            lambda m: m[1] + "\n <defs>" + "".join(letters) + "</defs>",
            out,
            count=1,
        )
    m = _VIEW.search(out)
    if m is None or top_pt == 0:
        return out
    width, height = float(m[2]), float(m[3])
    out = _VIEW.sub(
        lambda k: f'{k[1]}viewBox="0 {top_pt:g} {width:g} {height - top_pt:g}"', out, count=1
    )
    return re.sub(r'height="[\d.]+pt"', f'height="{height - top_pt:g}pt"', out, count=1)


def _drop_group(svg: str, gid: str) -> tuple[str, str]:
    """Return the picture without one group, and that group."""
    start = svg.find(f'<g id="{gid}">')
    if start < 0:
        return svg, ""
    depth, at = 0, start
    for m in re.finditer(r"<g\b|</g>", svg[start:]):
        depth += 1 if m[0] != "</g>" else -1
        if depth == 0:
            at = start + m.end()
            break
    return svg[:start] + svg[at:].lstrip("\n"), svg[start:at]


def inline_svg(svg: str, prefix: str) -> tuple[str, dict[str, str]]:
    """Prepare a drawing to stand inside a page.

    Parameters
    ----------
    svg : str
        A tidied drawing.
    prefix : str
        Put before every identifier, so that two drawings in one page do not share any.

    Returns
    -------
    svg : str
        Without XML head, fixed size and letter shapes; colours as variables.
    glyphs : dict
        Identifier = path element of each letter shape used, to be kept once in the page.
    """
    out = re.sub(r"<\?xml[^>]*\?>\s*", "", svg)
    glyphs = {m[1]: " ".join(m[0].split()) for m in _GLYPH.finditer(out)}
    out = _GLYPH.sub("", out)
    own = set(re.findall(r'\bid="([^"]+)"', out))
    used = set(re.findall(r'(?:href="#|url\(#)([^")]+)', out)) & own
    out = re.sub(
        r'\s?\bid="([^"]+)"', lambda m: f' id="{prefix}{m[1]}"' if m[1] in used else "", out
    )
    out = re.sub(
        r'(href="#|url\(#)([^")]+)',
        lambda m: f"{m[1]}{prefix}{m[2]}" if m[2] in used else m[0],
        out,
    )
    for color, name in NAMES.items():
        out = out.replace(color, f"var(--fig-{name})")
    out = re.sub(r'(<svg [^>]*?) width="[\d.]+pt" height="[\d.]+pt"', r"\1", out, count=1)
    out = re.sub(r'(<svg [^>]*?) height="[\d.]+pt"', r"\1", out, count=1)
    out = re.sub(r'(<svg [^>]*?) width="[\d.]+pt"', r"\1", out, count=1)
    out = re.sub(r"<style type=\"text/css\">.*?</style>", "", out, flags=re.DOTALL)
    out = re.sub(r"<defs>\s*</defs>\n?", "", out)
    return _compact(out), glyphs


def _compact(svg: str) -> str:
    """Round places to a tenth of a point and drop blanks between elements: a third is saved."""
    # sizes of letters, widths of lines and opacities stay as they are
    parts = re.split(r"(scale\([^)]*\)|style=\"[^\"]*\")", svg)
    short = [
        p if p.startswith(("scale(", "style=")) else _LONG.sub(lambda m: f"{float(m[0]):.1f}", p)
        for p in parts
    ]
    return re.sub(r">\s+<", "><", re.sub(r"\s*\n\s*", " ", "".join(short))).strip()
