"""A gallery: one figure of each kind from the studies in a folder, with a page that shows them.

``python tests/tools/gallery.py [DATASETS] [OUT]``; by default from ``datasets`` into
``reports/gallery``.
"""

from __future__ import annotations

import hashlib
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from fleetstats.chapters.compose import compose_report
from fleetstats.core.errors import SettingError
from fleetstats.core.value import Value
from fleetstats.document.document import Document, Figure
from fleetstats.document.parts import find_figures
from fleetstats.report.figures import draw_figure
from fleetstats.report.json import write_json_text
from fleetstats.report.place import MANIFEST, place_files
from fleetstats.studies.analyse import analyse, read_lives_of
from fleetstats.studies.compare.attribution import walk_advice
from fleetstats.studies.compare.document import Side, compose_compare
from fleetstats.study.study import STUDY_FILE, read_study

PAGE = "README.md"
COMPARED = ("on-condition-2025", "on-condition")
"""The two studies whose comparison has its figure in the gallery, where both are there."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Picture(Value):
    """A figure with the study that it comes from and the section it stands in."""

    study: str
    section: str
    figure: Figure


def choose_pictures(documents: Mapping[str, Document]) -> tuple[Picture, ...]:
    """Return one figure of each key, from the first study that has it, in the order of reports.

    Parameters
    ----------
    documents : mapping
        Study = its report; the order of studies decides which one shows a figure.
    """
    out: dict[str, Picture] = {}
    for study, document in documents.items():
        for figure in find_figures(document):
            out.setdefault(
                figure.key,
                Picture(study=study, section=_section(document, figure), figure=figure),
            )
    return tuple(out.values())


def gallery_files(documents: Mapping[str, Document]) -> dict[str, bytes]:
    """Return the gallery's files: a drawing of each figure, and the page that shows them."""
    pictures = choose_pictures(documents)
    files = {f"{p.figure.key}.svg": draw_figure(p.figure).svg.encode() for p in pictures}
    files[PAGE] = "\n".join(_page(pictures)).encode()
    listed = {name: hashlib.sha256(data).hexdigest() for name, data in files.items()}
    files[MANIFEST] = write_json_text(
        {"schema": "fleetstats/manifest/1", "report_id": "gallery", "files": listed}
    ).encode()
    return files


def _section(document: Document, figure: Figure) -> str:
    holds = [s.title for s in document.sections if any(b is figure for b in s.blocks)]
    return holds[0] if holds else "First screen"


def _page(pictures: Sequence[Picture]) -> Iterator[str]:
    yield "# Gallery"
    yield ""
    yield (
        "One figure of each kind, from the invented studies in `datasets/`. Made by "
        "`python tests/tools/gallery.py`."
    )
    section = ""
    for p in pictures:
        if p.section != section:
            section = p.section
            yield ""
            yield f"## {section}"
        yield ""
        yield f"### {p.figure.title}"
        yield ""
        yield f"![{_plain(p.figure.alt or p.figure.title)}]({p.figure.key}.svg)"
        yield ""
        yield f"{p.figure.see} *(study: {p.study})*".strip()
    yield ""


def _plain(text: str) -> str:
    """Return text that may stand as the description of a picture in Markdown."""
    return " ".join(text.replace("[", "(").replace("]", ")").split())


def documents_of(folder: Path) -> dict[str, Document]:
    """Run every study in a folder and return their reports, the one with most chapters first.

    Raises
    ------
    SettingError
        If the folder holds no study.
    """
    studies = sorted(p.parent for p in folder.glob(f"*/{STUDY_FILE}"))
    if not studies:
        raise SettingError(f"'{folder}' holds no study.", "Name a folder of study folders.")
    found: dict[str, Document] = {}
    compared = [p for p in studies if p.name in COMPARED]
    for place in studies:
        if len(compared) == len(COMPARED) and place.name == COMPARED[0]:
            continue  # it is there to be compared, not for a report of its own
        study = read_study(place)
        found[study.name] = compose_report(analyse(study))
    out = dict(sorted(found.items(), key=lambda item: -len(find_figures(item[1]))))
    if len(compared) == len(COMPARED):
        out[" and ".join(COMPARED)] = _comparison(folder)
    return out


def _comparison(folder: Path) -> Document:
    sides = []
    for name in COMPARED:
        study = read_study(folder / name)
        records, _, built = read_lives_of(study)
        sides.append(Side(study=study, sources=records.sources, spells=built.spells))
    old, new = sides
    return compose_compare(old, new, walk_advice(old.study, old.spells, new.study, new.spells))


def main(words: Sequence[str]) -> int:
    """Make the gallery; return the exit code."""
    source = Path(words[0]) if words else Path("datasets")
    out = Path(words[1]) if len(words) > 1 else Path("reports") / "gallery"
    place_files(gallery_files(documents_of(source)), out)
    sys.stdout.write(f"{out / PAGE}\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
