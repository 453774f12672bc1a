"""`fleetstats demo`: the whole job in one word, on an invented fleet."""

from __future__ import annotations

from pathlib import Path

import click

from fleetstats.cli.options import output_options, say


@click.command("demo", epilog="Example: fleetstats demo")
@click.option("--quiet-fleet", is_flag=True, help="The fleet in which nothing failed, instead.")
@click.option("--on-condition", is_flag=True, help="The fleet flown on its checks, instead.")
@click.option("--new-mode", is_flag=True, help="The fleet in which something began, instead.")
@click.option(
    "--into",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("fleetstats-demo"),
    show_default=True,
    help="Folder for the demo's records and its report.",
)
@output_options
@click.pass_context
def command(
    ctx: click.Context,
    quiet_fleet: bool,
    on_condition: bool,
    new_mode: bool,
    into: Path,
    as_json: bool,
    quiet: bool,
) -> None:
    """Write an invented fleet's records here, run their study, and say where the report is."""
    from fleetstats.cli.next_steps import after_demo, tell
    from fleetstats.cli.study import run
    from fleetstats.demo.fleets import write_demo

    asked = {"quiet-fleet": quiet_fleet, "on-condition": on_condition, "new-mode": new_mode}
    names = [name for name, wanted in asked.items() if wanted]
    if len(names) > 1:
        raise click.UsageError(f"--{names[0]} and --{names[1]} are two fleets.", ctx)
    name = names[0] if names else "tow-clubs"
    folder = write_demo(
        into / name, quiet_fleet=quiet_fleet, on_condition=on_condition, new_mode=new_mode
    )
    say(f"The demo's records are in {folder}", quiet=quiet)
    code = run(folder, into / "reports" / name, as_json=as_json, quiet=quiet)
    if not (quiet or as_json):
        tell(after_demo(folder))
    ctx.exit(code)
