"""`fleetstats bundle`: one file with inputs, settings, results and report."""

from __future__ import annotations

import tempfile
from pathlib import Path

import click

from fleetstats.cli.keys import key_to_sign
from fleetstats.cli.options import answer, folder_argument, output_options, progress, say


@click.command("bundle", epilog="Example: fleetstats bundle my-club --out my-club-2026.zip")
@folder_argument
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False),
              help="The zip.  [default: NAME-OF-FOLDER.zip]")  # fmt: skip
@click.option("--pseudonyms", is_flag=True, help="Carry lives without identities.")
@click.option("--key-file", type=click.Path(path_type=Path, dir_okay=False),
              default=Path("pseudonyms.key"), show_default=True,
              help="Key of the pseudonyms; made where there is none, never bundled.")  # fmt: skip
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
    key_file: Path,
    show: bool,
    sign: Path | None,
    passphrase_file: Path | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Run the study in FOLDER and put all that a stranger needs to check it into one zip."""
    from fleetstats.chapters.departures import list_departures
    from fleetstats.report.bundle.chains import flaws_of_chains
    from fleetstats.report.bundle.leaving import tell_leaving
    from fleetstats.report.bundle.pack import pack_bundle, study_members
    from fleetstats.report.bundle.pseudonyms import read_key, write_pseudonymous
    from fleetstats.report.bundle.seal import BESIDE
    from fleetstats.studies.analyse import read_lives_of
    from fleetstats.study.study import read_study

    study = read_study(folder)
    if show:
        leaving = tell_leaving(study, read_lives_of(study)[1])
        answer(leaving.to_dict(), str(leaving), as_json=as_json)
        return
    out = out or Path(f"{study.name}.zip")
    key = None if sign is None else key_to_sign(sign, passphrase_file)
    own = {} if pseudonyms else study_members(study)
    with progress(quiet) as stage:
        stage("packing")
        if pseudonyms:
            records, audit, built = read_lives_of(study)
            with tempfile.TemporaryDirectory(prefix="fleetstats-bundle-") as place:
                anew, origin = write_pseudonymous(
                    study,
                    audit,
                    Path(place) / "study",
                    key=read_key(key_file),
                    n_built=len(records.serials) or None,
                    departures=list_departures(study, records, audit, built),
                )
                packed = pack_bundle(anew, out, name="study", origin=origin, sign=key)
        else:
            packed = pack_bundle(study, out, sign=key)
    text = (
        f"{out}: {packed.n_files} files, {packed.size_bytes:,} bytes\n"
        f"Digest of its list: {packed.digest}\n"
        "Publish the digest apart from the file; 'fleetstats verify --expect' asks for it."
    )
    if key is not None:
        text += (
            f"\nSigned by the key {packed.signed_by}, in the bundle and in {packed.signature}; "
            "'fleetstats verify --by' asks for its public half."
        )
    elif (stale := out.with_name(out.name + BESIDE)).exists():
        say(f"{stale.name} beside it is the signature of an earlier bundle.", quiet=quiet)
    for flaw in flaws_of_chains({f"study/{k}": v for k, v in own.items()}):
        say(f"'verify' will call this bundle altered. {flaw}", quiet=quiet)
    answer(packed.to_dict(), text, as_json=as_json)
