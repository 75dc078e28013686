"""The command line as a whole: commands joined, errors turned into words and exit statuses."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from importlib import import_module
from typing import TYPE_CHECKING

import typer
from typer.main import get_command_name

from estimator import __version__
from estimator.cli.common import complain, mute, print_json, tell
from estimator.cli.stages import ByStage
from estimator.cli.streams import check_letters, letters_lost, prepare_streams
from estimator.core.errors import EngineError, EstimatorError, Exit, InputError, RefutedError, near_miss
from estimator.core.stoppable import listen

if TYPE_CHECKING:
    from click.exceptions import BadParameter, ClickException
    from typer.models import CommandInfo

FAMILIES = {
    "check_fit": ("check", "fit"),
    "measure": ("new", "measure", "draw", "triage"),
    "choose": ("estimate", "choose", "risk"),
    "money": ("rate", "price", "menu", "change", "sell", "offer", "spares", "invest"),
    "plan": ("plan",),
    "quote": ("quote",),
    "workbooks": ("reprice", "worked", "intake", "shop-book"),
    "learn": ("learn", "calibrate", "own-shop"),
    "page": ("page",),
    "ledger.group": ("ledger",),
}
"""The commands that each module of this room adds."""


def make_app(words: Sequence[str] = ()) -> typer.Typer:
    """The program with the one command that the first words name; with all of them where they name none.

    What a command may be given is worked out of its signature: of all commands that takes 0.05 s at every start.
    """
    app = typer.Typer(
        name="estimator",
        cls=ByStage,
        help="Decide, price and plan upgrades of fretted electric instruments at one bench.",
        no_args_is_help=True,
        pretty_exceptions_enable=False,
        rich_markup_mode=None,
    )
    app.callback()(_main)
    home = next((family for family, names in FAMILIES.items() if words and words[0] in names), None)
    for family in FAMILIES if home is None else (home,):
        import_module(f"estimator.cli.{family}").register(app)
    if home is not None:
        _leave(app, words[0])
        for group in app.registered_groups:
            if group.typer_instance is not None and len(words) > 1:
                _leave(group.typer_instance, words[1])
    return app


def _leave(app: typer.Typer, name: str) -> None:
    """Take all commands but the one of a name out; none where there is no such command."""
    named = [one for one in app.registered_commands if command_name(one) == name]
    app.registered_commands = named or app.registered_commands


def command_name(info: CommandInfo) -> str:
    """What is typed to call a command."""
    return info.name or get_command_name(getattr(info.callback, "__name__", ""))


def _version(wanted: bool) -> None:
    if wanted:
        print(f"estimator {__version__}")
        raise typer.Exit


def _main(
    version: bool = typer.Option(
        False, "--version", callback=_version, is_eager=True, help="Print the version and leave."
    ),
) -> None:
    pass


def run(arguments: list[str]) -> int:
    """Run one command; returns its exit status."""
    prepare_streams()
    listen()
    status = _run(arguments)
    if lost := letters_lost():
        complain(lost)
    return status


def _run(arguments: list[str]) -> int:
    try:
        check_letters(arguments)
        app = make_app(arguments)
        result = app(arguments, prog_name="estimator", standalone_mode=False)
        sys.stdout.flush()
        if result == Exit.STOPPED:  # typer's word for Ctrl-C
            complain("stopped; nothing was half-written")
        return int(result or 0)
    except InputError as error:
        return _bad_input(error, "--json" in arguments)
    except EngineError as error:
        return _engine_failed(error, "--json" in arguments)
    except typer.Exit as done:
        return done.exit_code
    except (typer.Abort, EOFError):  # who closes the input has had enough
        complain("stopped")
        return Exit.BAD_INPUT
    except EstimatorError as error:
        complain(f"error: {error}")
        return Exit.BAD_INPUT
    except KeyboardInterrupt:
        complain("stopped; nothing was half-written")
        return Exit.STOPPED
    except BrokenPipeError:
        return _nobody_reads()
    except SystemExit as left:
        # the table printer leaves so when the reader of a pipe has gone
        return _nobody_reads() if left.code == 1 else int(left.code or 0)
    except OSError as error:
        complain(f"error: the output cannot be written ({error.strerror or error})")
        mute(sys.stdout)
        return Exit.BAD_INPUT
    except Exception as error:
        return _unexpected(error, arguments)


def _bad_input(error: InputError, as_json: bool) -> int:
    if as_json:
        _print_data({"status": "bad-input", "errors": [issue.as_dict() for issue in error.issues]})
    tell(error.issues)
    return Exit.BAD_INPUT


def _engine_failed(error: EngineError, as_json: bool) -> int:
    if as_json:
        status = "refuted" if isinstance(error, RefutedError) else "engine-failed"
        _print_data({"status": status, "errors": [str(error)]})
    complain(f"error: {error}")
    return Exit.FAILED


def _print_data(data: dict[str, object]) -> None:
    """What was refused as data; where nobody reads it the exit status still says what happened."""
    try:
        print_json(data)
        sys.stdout.flush()
    except OSError:
        mute(sys.stdout)


def _nobody_reads() -> int:
    """The reader (head, less) has gone; stop quietly as other tools do."""
    mute(sys.stdout)
    return Exit.DONE


def _all_wrong(first: BadParameter, arguments: list[str]) -> Sequence[ClickException]:
    """All that a command needs and was not given, or was given wrongly: the parser itself stops at the first."""
    from click.exceptions import ClickException

    context = first.ctx
    if context is None or context.info_name not in arguments:
        return [first]
    given = arguments[arguments.index(context.info_name) + 1 :]
    try:
        values, left, _ = context.command.make_parser(context).parse_args(args=given)
    except ClickException:
        return [first]
    found: list[ClickException] = []
    for parameter in context.command.get_params(context):
        if parameter.required:
            try:
                parameter.handle_parse_result(context, values, left)
            except ClickException as error:
                found.append(error)
    told = [one.format_message() for one in found]
    return found if first.format_message() in told else [first, *found]


def _in_words(error: ClickException) -> str:
    """A complaint of the parser; of an option that a command has not, those that it has, and of a sum below nought."""
    from click.exceptions import NoSuchOption

    if not isinstance(error, NoSuchOption) or error.ctx is None:
        return error.format_message()
    if error.option_name[1:2].isdigit():
        return (
            f"a number below 0 is not accepted here; found {error.option_name}...; accepted: the number without "
            "its sign (an option such as --kind says which way money goes)"
        )
    options = [
        parameter.opts[-1] for parameter in error.ctx.command.params if parameter.opts[0].startswith("-")
    ]
    told = f"{error.ctx.info_name} has no option {error.option_name}; accepted: {', '.join(options)}"
    hint = near_miss(error.option_name, options)
    return f"{told}; next: {hint}" if hint else told


def _unexpected(error: Exception, arguments: list[str]) -> int:
    from click.exceptions import BadParameter, ClickException

    if isinstance(error, ClickException):
        wrong = _all_wrong(error, arguments) if isinstance(error, BadParameter) else [error]
        for one in wrong:
            complain(f"error: {_in_words(one)}")
        complain("next: estimator --help shows the commands, estimator COMMAND --help its options")
        return Exit.BAD_INPUT
    if os.environ.get("ESTIMATOR_DEBUG"):
        raise error
    complain(
        f"error: a fault in the program itself ({type(error).__name__}: {error}); your files are untouched. "
        "next: set ESTIMATOR_DEBUG=1, run again and send what it prints"
    )
    return Exit.FAILED
