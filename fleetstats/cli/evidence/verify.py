"""`fleetstats verify`: run a bundle again and say what agrees."""

from __future__ import annotations

from pathlib import Path

import click

from fleetstats.cli.options import answer, output_options, progress, say


@click.command("verify", epilog="Example: fleetstats verify my-club-2026.zip --expect 3f9a…")
@click.argument("bundle", type=click.Path(path_type=Path))
@click.option("--tolerance", type=click.FloatRange(min=0, max=0.1), default=1e-6,
              show_default=True, help="Relative difference up to which figures agree.")  # fmt: skip
@click.option("--expect", help="Digest of the bundle's list as its maker published it.")
@click.option("--by", "key", type=click.Path(path_type=Path), metavar="KEY",
              help="Public key (a .pub file, or a list with one key to a line) that must have "
              "signed it.")  # fmt: skip
@click.option("--signature", type=click.Path(path_type=Path), metavar="FILE",
              help="Detached signature to judge as well, as NAME.zip.sig.")  # fmt: skip
@output_options
@click.pass_context
def command(
    ctx: click.Context,
    bundle: Path,
    tolerance: float,
    expect: str | None,
    key: Path | None,
    signature: Path | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Check every byte of BUNDLE, run its study again, compare every figure and face."""
    from fleetstats.report.bundle.guarded import verify_guarded
    from fleetstats.report.bundle.keys import read_public_keys
    from fleetstats.report.bundle.seal import read_signature

    by = None if key is None else read_public_keys(key)
    detached = None if signature is None else (signature.name, read_signature(signature))
    with progress(quiet) as stage:
        stage("running the bundle's study again")
        fenced = verify_guarded(
            bundle, tolerance=tolerance, expect=expect, by=by, signature=detached
        )
    found = fenced.result
    if fenced.not_held:
        say(f"This system cannot limit {', '.join(fenced.not_held)}; the clock alone was held.",
            quiet=quiet)  # fmt: skip
    answer(found.to_dict(), str(found), as_json=as_json)
    ctx.exit(0 if found.good else 1)
