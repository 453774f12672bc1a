"""`fleetstats bundle`: one file with inputs, settings, results and report."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import click

from fleetstats.cli.evidence.keys import key_to_sign
from fleetstats.cli.options import answer, folder_argument, output_options, progress, say

if TYPE_CHECKING:
    from fleetstats.study.origin import StudyOrigin


@click.command("bundle", epilog="Example: fleetstats bundle my-club --out my-club-2026.zip")
@folder_argument
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False),
              help="The zip.  [default: NAME-OF-FOLDER.zip]")  # fmt: skip
@click.option("--pseudonymous", "--pseudonyms", "pseudonyms", is_flag=True,
              help="Replace names, coarsen hours and dates.")  # fmt: skip
@click.option("--coarse", default="1h,month", show_default=True, metavar="STEPS",
              help="Whole hours, and month, quarter or year: 10h,quarter.")  # fmt: skip
@click.option("--keep-text", "keep", multiple=True, metavar="SETTING",
              help="A setting of free text that leaves as it stands, such as base_rate.source; "
              "repeatable.")  # fmt: skip
@click.option("--key-file", type=click.Path(path_type=Path, dir_okay=False),
              help="Keep the key of the pseudonyms here, never bundled; by default it is "
              "forgotten.")  # fmt: skip
@click.option("--show", is_flag=True, help="Only say what would leave with pseudonyms.")
@click.option("--sign", type=click.Path(path_type=Path, dir_okay=False), metavar="KEY",
              help="OpenSSH private key (Ed25519) that signs the list; never bundled.")  # fmt: skip
@click.option("--passphrase-file", type=click.Path(path_type=Path, dir_okay=False),
              help="File whose first line opens the key.  [default: asked for]")  # fmt: skip
@output_options
def command(
    folder: Path,
    out: Path | None,
    pseudonyms: bool,
    coarse: str,
    keep: tuple[str, ...],
    key_file: Path | None,
    show: bool,
    sign: Path | None,
    passphrase_file: Path | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Run the study in FOLDER and put all that a stranger needs to check it into one zip."""
    from fleetstats.report.bundle.chains import flaws_of_chains
    from fleetstats.report.bundle.hiding.steps import read_steps
    from fleetstats.report.bundle.leaving import tell_leaving
    from fleetstats.report.bundle.pack import pack_bundle, study_members
    from fleetstats.report.bundle.pseudonyms import pseudonymous_study, read_key
    from fleetstats.report.bundle.seal import BESIDE
    from fleetstats.studies.analyse import read_lives_of
    from fleetstats.study.study import read_study

    study, steps = read_study(folder), read_steps(coarse)
    if show:
        leaving = tell_leaving(study, read_lives_of(study)[1], steps, keep)
        answer(leaving.to_dict(), str(leaving), as_json=as_json)
        return
    out = out or Path(f"{'study' if pseudonyms else study.name}.zip")
    told = ""
    signing = None if sign is None else key_to_sign(sign, passphrase_file)
    own = {} if pseudonyms else study_members(study)
    with progress(quiet) as stage:
        stage("packing")
        if pseudonyms:
            key = None if key_file is None else read_key(key_file)
            with tempfile.TemporaryDirectory(prefix="fleetstats-bundle-") as place:
                made = pseudonymous_study(
                    study, Path(place) / "study", coarse=steps, key=key, keep=keep
                )
                packed = pack_bundle(made.study, out, name="study", sign=signing)
                told = _tell(made.origin)
        else:
            packed = pack_bundle(study, out, sign=signing)
    text = (
        f"{told}{out}: {packed.n_files} files, {packed.size_bytes:,} bytes\n"
        f"Digest of its list: {packed.digest}\n"
        "Publish the digest apart from the file; 'fleetstats verify --expect' asks for it."
    )
    if signing is not None:
        text += (
            f"\nSigned by the key {packed.signed_by}, in the bundle and in {packed.signature}; "
            "'fleetstats verify --by' asks for its public half."
        )
    elif (stale := out.with_name(out.name + BESIDE)).exists():
        say(f"{stale.name} beside it is the signature of an earlier bundle.", quiet=quiet)
    for flaw in flaws_of_chains({f"study/{k}": v for k, v in own.items()}):
        say(f"'verify' will call this bundle altered. {flaw}", quiet=quiet)
    answer(packed.to_dict(), text, as_json=as_json)


def _tell(origin: StudyOrigin) -> str:
    """Return for its maker what a bundle tells of its original."""
    from fleetstats.chapters.origin import (
        answer_rows,
        say_account,
        say_replaced,
        say_unlike,
        unique_rows,
    )

    same = not any(x.what == "reason" for x in origin.unlike)
    lines = [f"{say_replaced(origin)}.", say_account(origin, same), say_unlike(origin)]
    lines += ["Answers, of the original and coarsened:"]
    lines += [f"  {name:<28}{was:>16}{now:>16}" for name, was, now in answer_rows(origin.answers)]
    lines += ["Engines alone, alike to one other, alike to two or more:"]
    lines += [f"  by {by:<24}{when:<8}{a:>6}{b:>6}{c:>6}"
              for by, when, a, b, c in unique_rows(origin.unique)]  # fmt: skip
    return "\n".join([*lines, ""])
