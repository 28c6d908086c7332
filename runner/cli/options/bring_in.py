"""The command line of `matside import`."""

from __future__ import annotations

from pathlib import Path

from runner.cli.options.shared import Commands, command, data_option, for_option


def add(commands: Commands) -> None:
    """Add the command."""
    parser = command(
        commands,
        "import",
        "bring rows of a CSV into the record: all or none, after a look at them",
        "matside import ada.csv",
        "matside import sheet.csv --plan kestrel-hut --for Ada --columns date=Day,reps=Count",
        'matside import sheet.csv --plan kestrel-hut --exercise "Press-ups=push-up" --yes',
    )
    parser.add_argument(
        "file",
        metavar="FILE",
        type=Path,
        help="an export, or a sheet: date,exercise,set,reps",
    )
    parser.add_argument("--plan", metavar="PLAN", help="of a sheet: the plan with its exercises")
    for_option(parser, "of a sheet: whose it is; default the login name")
    parser.add_argument(
        "--columns",
        metavar="OURS=THEIRS,...",
        help="of a sheet: its names for date, exercise, set, reps, version, load_kg, reserve, "
        "note, trainee",
    )
    parser.add_argument(
        "--exercise",
        metavar="THEIRS=ID",
        action="append",
        default=[],
        help="of a sheet: its name of an exercise; may be given again",
    )
    parser.add_argument("--yes", action="store_true", help="do it without asking")
    parser.add_argument("--trial", action="store_true", help="the record of trial plans instead")
    data_option(parser)
    parser.set_defaults(command="bring_in")
