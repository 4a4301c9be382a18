"""The command line: one lazy group, and the exit codes of its expected endings.

0: done; 1: no stock within the limits meets the target, or `verify` found a difference; 2: bad
input, said with its place. All others are given in `surge_sim/cli/__init__.py`.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from difflib import get_close_matches
from importlib import import_module
from io import StringIO
from shutil import get_terminal_size
from typing import Any

import click

from surge_sim import __version__
from surge_sim.cautions import CAUTION_IN_SHORT
from surge_sim.cli import EXIT_CODES, PROGRAM, stopped
from surge_sim.errors import OutOfReach, ScenarioError
from surge_sim.plain import for_screen

#: commands in the order of the work, with the line that stands in the list; kept here so that
#: the list is shown without loading any of them
COMMANDS = {
    "new": "Write a commented scenario file to start from.",
    "check": "Check a scenario file, and its average workload against the stock.",
    "schema": "Print the JSON Schema of scenario files, for editors.",
    "run": "Simulate the stock in hand: does it meet the service target?",
    "compare": "Compare alternatives: what each changes, and its cost.",
    "size": "Say what to add so that the target is met, and in which order.",
    "case": "Make the case for what size found: document, workbook, page.",
    "matters": "Say which input that is not known exactly to measure first.",
    "verify": "Simulate some surges in both engines and compare them.",
    "explain": "Tell what happened to one entry, kit or battery.",
    "exercise": "Hold an exercise in which every choice is computed.",
    "sources": "Show the caution, and what the tool was checked against.",
}


#: commands that share a module; any other one is ``command`` in the module of its name
_HOMES = {
    "new": "scenario_file.new",
    "check": "scenario_file.check",
    "schema": "scenario_file.schema",
    "verify": "evidence.verify",
    "explain": "evidence.explain",
    "sources": "evidence.sources",
}


class BadInput(click.ClickException):
    """Faults in a file or an option, each already said with its place."""

    exit_code = 2

    def show(self, file: Any = None) -> None:
        """Print the message as it is on standard error."""
        click.echo(for_screen(self.message), file=file, err=file is None)


class NoStockMeetsTarget(click.ClickException):
    """Nothing within the limits meets the target; the message says which limit to widen.

    It is an answer too, so it is laid out like one and the caution stands below it.
    """

    exit_code = 1

    def show(self, file: Any = None) -> None:
        """Print it on standard error as wide as the terminal."""
        from surge_sim.report.document import Answer, Remark, Sentences, document
        from surge_sim.report.terminal import render

        first, *others = self.message.splitlines()
        caution = Remark("caution", CAUTION_IN_SHORT)
        said = document(Answer(first), Sentences(tuple(others)), caution)
        columns = get_terminal_size((80, 24)).columns
        click.echo(render(said, columns), file=file, err=file is None)


class LazyCommands(click.Group):
    """Loads a command when it is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the commands in the order of the work."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Load one command, or return None when there is none of that name."""
        if cmd_name not in self.list_commands(ctx):
            return None
        module, _, name = _HOMES.get(cmd_name, f"{cmd_name}.command").partition(".")
        command: click.Command = getattr(import_module(f"surge_sim.cli.{module}"), name)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the commands from the table, loading none, and the exit codes."""
        rows = [(name, COMMANDS[name]) for name in self.list_commands(ctx)]
        if rows:
            with formatter.section("Commands"):
                formatter.write_dl(rows)
            with formatter.section("Exit codes"):
                formatter.write_dl(list(EXIT_CODES.items()))

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command; name the nearest one when there is none of that name."""
        commands = self.list_commands(ctx)
        if args[0] not in commands and not args[0].startswith("-"):
            near = get_close_matches(args[0], commands, n=1)
            hint = f" Did you mean '{near[0]}'?" if near else f" Known: {', '.join(commands)}."
            ctx.fail(f"There is no command '{args[0]}'.{hint}")
        return super().resolve_command(ctx, args)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; turn the two expected kinds of refusal into exit codes."""
        try:
            return super().invoke(ctx)
        except ScenarioError as error:
            raise BadInput(str(error)) from error
        except OutOfReach as error:
            raise NoStockMeetsTarget(str(error)) from error


@click.group(
    cls=LazyCommands,
    epilog=CAUTION_IN_SHORT,
    context_settings={"help_option_names": ["-h", "--help"]},
)
@click.version_option(__version__, prog_name=PROGRAM, message="%(prog)s %(version)s")
def cli() -> None:
    """Size kits, spare batteries and charger bays for a surge in airborne isolation."""


def exit_code_of(arguments: Sequence[str]) -> int:
    """Run the program and return its exit code; errors of the program itself pass through."""
    instruction = os.environ.get("_SURGE_SIM_COMPLETE")
    if instruction:
        from click.shell_completion import shell_complete

        return shell_complete(cli, {}, PROGRAM, "_SURGE_SIM_COMPLETE", instruction)
    try:
        # not cli.main(): it gives a closed pipe and a stop from the keyboard codes of its own
        with cli.make_context(PROGRAM, list(arguments)) as ctx:
            cli.invoke(ctx)
        sys.stdout.flush()
        return 0
    except click.exceptions.Exit as ending:
        return ending.exit_code
    except click.ClickException as refusal:
        shown = StringIO()
        refusal.show(shown)
        click.echo(for_screen(shown.getvalue()), nl=False, err=True)
        return refusal.exit_code
    except (KeyboardInterrupt, click.Abort):
        return stopped()
