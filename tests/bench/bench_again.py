"""A long table studied again: unchanged, and with one percent of rows added below.

Run: python tests/bench/bench_again.py [ROWS]

Time of reading, and of the answer with reading and imports, each in a process of its own: nothing
kept, for the first time, unchanged, grown, and grown with nothing kept. The answer that `--quick`
gives of the grown table is measured apart, what was kept before put back after it. What is kept
must not show: grown and grown with nothing kept say the same to the byte. A process beside takes
some of the work, as of the verb; its processor's time is added, and the clock tells what both took.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from bench_bulk import write_table

WORK = """
import time
began = time.time()
import hashlib, json, resource, sys
from fleetstats.core.beside import Beside
from fleetstats.core.pause import collect_seldom
from fleetstats.core.shelf import open_shelf
from fleetstats.studies.analyse import analyse
import fleetstats as fs
collect_seldom()
marks = []
study = fs.read_study(sys.argv[1])
with Beside() as beside:
    results = analyse(study, chunks=True, quick="--quick" in sys.argv, beside=beside,
                      shelf=open_shelf(study.folder),
                      stage=lambda said: marks.append((said, time.process_time())))
    text = json.dumps(results.to_dict())
    clock = time.time() - began
at = dict(reversed(marks))
read = at["pairing entries with ends"] - at["reading the records"]
both = [resource.getrusage(w) for w in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
whole = sum(u.ru_utime + u.ru_stime for u in both)
digest = hashlib.sha256(text.encode()).hexdigest()[:12]
print(f"{read:.2f} {whole:.2f} {clock:.2f} {digest}")
"""


def ask(folder: Path, kept: str, *more: str) -> str:
    """Return reading, whole time, that of the clock, and digest of the results of one run."""
    env = {**os.environ, "FLEETSTATS_KEPT": kept, "FLEETSTATS_NO_HISTORY": "1"}
    done = subprocess.run([sys.executable, "-c", WORK, str(folder), *more], env=env, check=True,
                          capture_output=True, text=True)  # fmt: skip
    return done.stdout.strip()


def main() -> None:
    """Print one line for each run."""
    n = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    with tempfile.TemporaryDirectory() as name:
        folder, kept = Path(name) / "study", str(Path(name) / "kept")
        folder.mkdir()
        write_table(n, folder, "csv", 1)
        more = Path(name) / "more"
        more.mkdir()
        write_table(n // 100, more, "csv", 1)
        print(f"{n:,} rows: reading, answer (s of processors), answer (s by the clock), results")
        print("nothing kept   ", ask(folder, "no"))
        print("for the first  ", ask(folder, kept))
        print("unchanged      ", ask(folder, kept))
        added = (more / "parts.csv").read_bytes().partition(b"\n")[2].replace(b'"E', b'"F')
        with (folder / "parts.csv").open("ab") as f:
            f.write(added)
        before = shutil.copytree(kept, Path(name) / "before")
        print("  its answer   ", ask(folder, kept, "--quick"))
        shutil.rmtree(kept)
        shutil.move(before, kept)
        print("one percent on ", ask(folder, kept))
        print("  nothing kept ", ask(folder, "no"))


if __name__ == "__main__":
    main()
