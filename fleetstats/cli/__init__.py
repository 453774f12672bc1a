"""Floor 7: the verbs at a prompt.

A verb's module is imported only when that verb runs, so that help stays quick.
"""

from __future__ import annotations

import _thread
import importlib
import sys
import threading
from typing import Any

import click

from fleetstats import __version__
from fleetstats.chapters.verbs import CHAPTER_VERBS

CHAPTER = ""
"""In place of a module: the registry of chapters describes the verb."""

VERBS = {
    "begin": ("fleetstats.cli.begin", "Lay out a new study folder with commented templates."),
    "open": ("fleetstats.cli.desk.open", "Open a study in the browser, on this machine alone."),
    "declare": ("fleetstats.cli.declare", "Write down the question before the records are drawn."),
    "check": ("fleetstats.cli.check", "Read and audit the records only."),
    "template": ("fleetstats.cli.template", "Write a workbook for members to fill in."),
    "check-return": ("fleetstats.cli.check_return", "Check one return alone, before it is sent."),
    "study": ("fleetstats.cli.study", "Run a study: from its records to advice and a report."),
    "claim": ("fleetstats.cli.claim", "Say what may honestly be claimed at given hours."),
    "watch": ("fleetstats.cli.watch", "Say whether failures come faster than they did."),
    "plan": ("fleetstats.cli.plan", "Say what further evidence would show more."),
    "stress": ("fleetstats.cli.stress", "Say how often a claim would be wrong were lives not so."),
    **{v.name: (CHAPTER, v.line) for v in CHAPTER_VERBS},
    "portfolio": ("fleetstats.cli.portfolio", "Study many families at once, and rank them."),
    "compare": ("fleetstats.cli.compare", "Say what changed between two studies, and why."),
    "export": ("fleetstats.cli.export", "Write the brief in one small page, for e-mail."),
    "bundle": ("fleetstats.cli.bundle", "Put inputs, results and report into one file."),
    "verify": ("fleetstats.cli.verify", "Run a bundle again and say what agrees."),
    "demo": ("fleetstats.cli.demo", "Make the invented demo fleet here and run its study."),
}
"""Verb: (module that holds a command named `command`, or CHAPTER; one line for the help page)."""

GONE = {"large": "'fleetstats study --chunks' studies one table of any length."}
"""Verb that was: what does its work now."""


def _stop_after_all(lost: Any) -> None:
    """Stop again where Ctrl-C fell into a callback of the interpreter, which swallows it."""
    if lost.exc_type is KeyboardInterrupt:
        threading.Timer(0.02, _thread.interrupt_main).start()
    else:
        sys.__unraisablehook__(lost)


class Verbs(click.Group):
    """A group that lists its verbs without importing them."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the verbs in the order of the work."""
        del ctx
        return list(VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import one verb."""
        del ctx
        if cmd_name not in VERBS:
            return None
        module = VERBS[cmd_name][0]
        if module == CHAPTER:
            from fleetstats.cli.chapter import chapter_command

            return chapter_command(cmd_name)
        command: click.Command = importlib.import_module(module).command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of verbs from the table alone."""
        del ctx
        with formatter.section("Verbs"):
            formatter.write_dl([(name, text) for name, (_, text) in VERBS.items()])

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Name the nearest verb when one is not known."""
        try:
            return super().resolve_command(ctx, args)
        except click.UsageError:
            from difflib import get_close_matches

            near = get_close_matches(args[0], VERBS, n=1)
            hint = f"Did you mean '{near[0]}'?" if near else f"Verbs: {', '.join(VERBS)}."
            hint = GONE.get(args[0], hint)
            raise click.UsageError(f"There is no verb '{args[0]}'. {hint}", ctx) from None

    def invoke(self, ctx: click.Context) -> Any:
        """Run a verb; turn the package's own errors into a message and an exit code."""
        earlier, sys.unraisablehook = sys.unraisablehook, _stop_after_all
        try:
            return self._invoke(ctx)
        except KeyboardInterrupt:
            from fleetstats.cli.options import STOPPED

            click.echo("fleetstats: stopped; no half of a report was left behind.", err=True)
            ctx.exit(STOPPED)
        finally:
            sys.unraisablehook = earlier

    def _invoke(self, ctx: click.Context) -> Any:
        from fleetstats.core.errors import FleetstatsError, SettingError

        try:
            return super().invoke(ctx)
        except FleetstatsError as error:
            click.echo(f"fleetstats: {error}", err=True)
            ctx.exit(2 if isinstance(error, SettingError) else 1)
        except OSError as error:
            click.echo(f"fleetstats: {error.filename or 'file'}: {error.strerror}.", err=True)
            ctx.exit(1)


@click.command(
    cls=Verbs,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 96},
    epilog="\b\nExamples:\n"
    "  fleetstats demo             the whole job on an invented fleet\n"
    "  fleetstats begin my-club    a new study folder with templates\n"
    "  fleetstats check my-club    what is odd in the records\n"
    "  fleetstats study my-club    advice and report, under reports/my-club/\n\n"
    "Exit codes: 0 done; 1 the records or the fit failed; 2 wrong usage or study file; "
    "3 done, and the answer is 'not enough evidence' (or check found what --fail-on names).",
)
@click.version_option(__version__, prog_name="fleetstats")
def main() -> None:
    """From records of engine hours to advisable overhaul hours, with their evidence."""
