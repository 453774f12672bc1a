"""Floor 7: the verbs at a prompt.

A verb's module is imported only when that verb runs, so that help stays quick.
"""

from __future__ import annotations

import _thread
import importlib
import sys
import threading
import warnings
from typing import Any

import click

from fleetstats import __version__
from fleetstats.chapters.verbs import CHAPTER_VERBS

CHAPTER = ""
"""In place of a module: the registry of chapters describes the verb."""

VERBS = {
    "begin": ("fleetstats.cli.begin", "Lay out a new study folder with commented templates."),
    "open": ("fleetstats.cli.desk.open", "Open a study in the browser, on this machine alone."),
    "declare": (
        "fleetstats.cli.evidence.declare",
        "Write down the question before the records are drawn.",
    ),
    "check": ("fleetstats.cli.check", "Read and audit the records only."),
    "template": ("fleetstats.cli.template", "Write a workbook for members to fill in."),
    "check-return": ("fleetstats.cli.check_return", "Check one return alone, before it is sent."),
    "study": ("fleetstats.cli.study", "Run a study: from its records to advice and a report."),
    "claim": ("fleetstats.cli.claim", "Say what may honestly be claimed at given hours."),
    "watch": ("fleetstats.cli.watch", "Say whether failures come faster than they did."),
    "plan": ("fleetstats.cli.plan", "Say what further evidence would show more."),
    "calls": ("fleetstats.cli.calls", "Say whom to ask for a fresh reading, and print the list."),
    "stress": ("fleetstats.cli.stress", "Say how often a claim would be wrong were lives not so."),
    **{v.name: (CHAPTER, v.line) for v in CHAPTER_VERBS},
    "portfolio": ("fleetstats.cli.portfolio", "Study many families at once, and rank them."),
    "compare": ("fleetstats.cli.compare", "Say what changed between two studies, and why."),
    "export": ("fleetstats.cli.evidence.export", "Write the brief in one small page, for e-mail."),
    "bundle": ("fleetstats.cli.evidence.bundle", "Put inputs, results and report into one file."),
    "verify": ("fleetstats.cli.evidence.verify", "Run a bundle again and say what agrees."),
    "selftest": (
        "fleetstats.cli.evidence.selftest",
        "Work out published cases here; say what agrees.",
    ),
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


def _print_anything() -> None:
    """Let a console of an old encoding show the code of a letter that it has not, and go on."""
    for stream in (sys.stdout, sys.stderr):
        if getattr(stream, "errors", "") == "strict" and hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")


def _was_stopped(error: BaseException | None) -> bool:
    """Return whether Ctrl-C is behind an error: it may fall into an import, which turns it."""
    while error is not None:
        if isinstance(error, KeyboardInterrupt):
            return True
        error = error.__cause__ or error.__context__
    return False


class Verbs(click.Group):
    """A group that lists its verbs without importing them."""

    def main(self, *args: Any, **kwargs: Any) -> Any:
        """Run from a prompt."""
        _print_anything()
        return super().main(*args, **kwargs)

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
            with warnings.catch_warnings():
                if not sys.warnoptions:  # what a reader must know is a caution, in words
                    warnings.simplefilter("ignore")
                return self._invoke(ctx)
        except (click.exceptions.Exit, click.ClickException):
            raise
        except BaseException as error:
            if not _was_stopped(error):
                raise
            from fleetstats.cli.options import put_error
            from fleetstats.core.child import status_of

            put_error("stopped; no half of a report was left behind.")
            ctx.exit(status_of(error))
        finally:
            sys.unraisablehook = earlier

    def _invoke(self, ctx: click.Context) -> Any:
        from fleetstats.cli.options import put_error
        from fleetstats.core.errors import FleetstatsError, SettingError
        from fleetstats.core.screen import screen_line

        try:
            return super().invoke(ctx)
        except FleetstatsError as error:
            put_error(str(error))
            ctx.exit(2 if isinstance(error, SettingError) else 1)
        except MemoryError:
            put_error(
                "there is not enough memory for this. Use fewer --workers, a larger --memory, or "
                "'fleetstats study --chunks' for a long table."
            )
            ctx.exit(1)
        except OSError as error:
            put_error(_say_refused(error))
            ctx.exit(1)
        except click.UsageError as error:  # it quotes what was typed, or what a shell filled in
            said = error.format_message()
            if said.isprintable():
                raise
            raise click.UsageError(screen_line(said), error.ctx) from None


def _say_refused(error: OSError) -> str:
    """Say what the system refused; what has no name is most often a file made for a moment."""
    from tempfile import gettempdir

    why = error.strerror or str(error) or type(error).__name__
    if error.filename:
        return f"{error.filename}: {why}."
    return f"a file could not be written or read, here or in {gettempdir()}: {why}."


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
