"""Records drawn from URLs and databases into the folder of their study."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

from fleetstats.core.errors import ReadError, SettingError
from fleetstats.core.gate import PATH, gate
from fleetstats.core.stages import silent
from fleetstats.records.drawing.queries import draw_query
from fleetstats.records.drawing.urls import draw_url
from fleetstats.study.files.drawn import drawn_folder, lies_elsewhere, told_from
from fleetstats.study.study import read_record_keys


@gate(folder=PATH)
def draw_records(folder: str | Path, *, stage: Callable[[str], None] = silent) -> tuple[str, ...]:
    """Draw the records of a study that lie elsewhere; return the files written, by name.

    Earlier copies stay until new ones are complete, and nothing else in the folder is touched.
    Credentials are those that the environment gives to the libraries; none is written down.

    Parameters
    ----------
    folder : str or Path
        The study's folder.
    stage : callable
        Told what is drawn.

    Raises
    ------
    SettingError
        If the study file is wrong, or a library that is needed is not installed.
    ReadError
        If records cannot be drawn; the message names which, and holds nothing that a library said,
        since that may hold a password.

    Examples
    --------
    >>> from fleetstats.records.drawing.draw import draw_records
    >>> draw_records("datasets/quiet-fleet")
    ()
    """
    root = Path(folder)
    out: list[str] = []
    for number, keys in enumerate(read_record_keys(root), start=1):
        if not lies_elsewhere(keys):
            continue
        where = f"records[{number}]"
        stage(f"drawing {where} from {told_from(keys)}")
        into = root / drawn_folder(keys)
        part = into.with_name(f".{into.name}.part")
        shutil.rmtree(part, ignore_errors=True)
        part.mkdir(parents=True)
        try:
            names = draw_query(keys, root, part) if keys.sql else draw_url(keys.file, part)
        except (SettingError, ReadError) as error:
            raise type(error)(f"{where}: {error.message}", error.hint) from None
        except Exception as error:
            # what a library says may hold the address with its password
            raise ReadError(
                f"{where}: {told_from(keys)} cannot be drawn ({type(error).__name__}).",
                "Look whether it can be reached from here with the environment's credentials.",
            ) from None
        else:
            shutil.rmtree(into, ignore_errors=True)
            part.rename(into)
        finally:
            shutil.rmtree(part, ignore_errors=True)
        out += [f"{drawn_folder(keys)}/{name}" for name in names]
    return tuple(out)
