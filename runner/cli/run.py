"""`matside run`: runs a session live, on the full screen or in line mode."""

from __future__ import annotations

import argparse
import os
import shlex
import sys
from collections.abc import Callable
from contextlib import ExitStack, suppress
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from runner.cli.common import (
    data_dir,
    data_option,
    examples,
    for_option,
    heard_options,
    session_option,
    terminal_bell,
    time_given,
    trainee_name,
)
from runner.errors import Exit, MatsideError
from runner.output import record_path
from runner.plan.library import find_plan, plan_titled
from runner.text import shown

if TYPE_CHECKING:  # heavy modules are loaded after the first picture
    from runner.live.session_setup import Live, Opening
    from runner.live.sound_controls import SoundOptions


def options(parser: argparse.ArgumentParser) -> None:
    """Add the options of the command to its parser."""
    examples(
        parser,
        "matside run demo",
        "matside run --for Ada                 the plan that Ada ran last",
        "matside run kestrel-hut --session B --for Ada",
        "matside run demo --plain --mute",
        "matside run kestrel-hut --voice on --volume 60",
    )
    parser.add_argument(
        "plan", metavar="PLAN", nargs="?", help="path or name of a plan (default: the one run last)"
    )
    session_option(parser)
    for_option(parser, "trainee (default: login name)")
    parser.add_argument("--plain", action="store_true", help="line mode, without a full screen")
    parser.add_argument("--mute", action="store_true", help="no sound")
    parser.add_argument(
        "--voice",
        choices=("off", "on", "names"),
        help="what the voice says: off, on, or names of exercises (default: MATSIDE_VOICE, else "
        "off)",
    )
    heard_options(parser)
    which = parser.add_mutually_exclusive_group()
    which.add_argument(
        "--resume", action="store_true", help="continue the session that was cut off"
    )
    which.add_argument(
        "--fresh", action="store_true", help="start a new session; the cut-off one stays open"
    )
    parser.add_argument("--yes", action="store_true", help="start without the page of cautions")
    parser.add_argument("--within", metavar="TIME", help="time you have: 35m")
    parser.add_argument("--until", metavar="TIME", help="time of day to finish by: 07:10")
    data_option(parser)


def main(args: argparse.Namespace) -> int:
    """Run the command."""
    data = data_dir(args.data)
    time_given(args.within, args.until)  # refuses before anything is opened
    trainee = trainee_name(args.trainee)
    resume = True if args.resume else False if args.fresh else None
    with ExitStack() as open_to_the_end:
        typed = args.plan
        if typed is None:
            typed, args.plan = _run_last(trainee, data, open_to_the_end)
        plan = find_plan(args.plan, data)

        def opened() -> Opening:
            opening = _opened(args, data, trainee)
            open_to_the_end.callback(lambda: opening.record.close())  # noqa: PLW0108 - the last one
            if resume:
                opening.to_resume()  # refuses before there is a screen
            return opening

        if args.plain or not _full_screen_works():
            code, live = _plain(args, opened(), resume=resume)
        else:
            code, live = _on_screen(args, plan, opened, resume=resume)
        args.plan = typed
        return _last_words(code, live, args, data)


def _run_last(trainee: str, data: Path, until_end: ExitStack) -> tuple[str | None, str]:
    """The plan that the trainee ran last: what to type for it (None: nothing), and its path.

    Raises MatsideError (66) if the trainee has run no plan. If the plan's file is gone, the plan
    runs as it was stored.
    """
    from runner.record.record import Record

    with Record.open_readonly(record_path(data, trial=False)) as record:
        for one in reversed(record.sessions(trainee=trainee)):
            begun = f"{trainee} ran it last on {one.local_date:%A} {one.local_date}"
            if typed := plan_titled(one.plan, data):
                _say(f"plan {shown(typed)}, {shown(one.plan)}: {begun}")
                return typed, typed
            if text := record.plan_text(one.plan_hash):
                folder = until_end.enter_context(TemporaryDirectory(prefix="matside-"))
                path = Path(folder, "as-it-was.toml")
                path.write_text(text, encoding="utf-8")
                _say(
                    f"the stored plan {shown(one.plan)}: {begun}. Its file is neither in "
                    f"{shown(data / 'plans')} nor here; to run a file write matside run PATH"
                )
                return None, str(path)
        near = record.similar(trainee)
    hint = f"; similar names: {', '.join(near)} (--for NAME)" if near else ""
    raise MatsideError(
        f"{trainee} has run no plan yet; name one: matside run kestrel-hut{hint}",
        code=Exit.NO_INPUT,
    )


def _on_screen(
    args: argparse.Namespace, plan: Path, opened: Callable[[], Opening], *, resume: bool | None
) -> tuple[int, Live | None]:
    """Draw the first picture, then load the rest."""
    from runner.screen.first_picture import first_picture

    with first_picture(plan) as picture:
        opening = opened()
        from runner.screen.app import run_screen

        if opening.trouble or opening.exposed:
            picture.clear()
            _say_trouble(opening)
        picture.hand_over()
        return run_screen(opening, resume=resume, yes=args.yes, wanted=_wanted(args))


def _opened(args: argparse.Namespace, data: Path, trainee: str) -> Opening:
    """The plan and the record, read."""
    from runner.live.clock import SystemClock
    from runner.live.session_setup import prepare

    opening = prepare(
        args.plan, data=data, trainee=trainee, clock=SystemClock(), session=args.session
    )
    if args.within is not None or args.until is not None:
        opening.within, opening.until = time_given(args.within, args.until)
    return opening


def _say_trouble(opening: Opening) -> None:
    if opening.trouble:
        print(f"matside: THE RECORD CANNOT BE WRITTEN: {opening.trouble}", file=sys.stderr)
    if opening.exposed:
        print(f"matside: {opening.exposed}", file=sys.stderr)


def _full_screen_works() -> bool:
    """Whether input and output are a terminal that can draw; if not, says so."""
    why_not = no_full_screen()
    if why_not:
        print(f"matside: {why_not}: no full screen, so matside uses line mode", file=sys.stderr)
    return not why_not


def no_full_screen() -> str:
    """Why no full screen is possible; "" where it is."""
    if os.environ.get("TERM", "") == "dumb":
        return "TERM is dumb"
    return "" if sys.stdin.isatty() and sys.stdout.isatty() else "no terminal"


def _plain(
    args: argparse.Namespace, opening: Opening, *, resume: bool | None
) -> tuple[int, Live | None]:
    from runner.lines.session import run_plain
    from runner.live.clock import collecting_new_objects_only, kept_awake
    from runner.live.sound_controls import Hearing

    _say_trouble(opening)
    terminal = sys.stdin.isatty() and sys.stderr.isatty()
    hearing = Hearing(os.environ, _wanted(args), bell=terminal_bell())
    with hearing, kept_awake(), collecting_new_objects_only():
        code, live = run_plain(opening, hearing, resume=resume, yes=args.yes, terminal=terminal)
        while news := hearing.news():
            print(news, file=sys.stderr)
    if code == Exit.OK and hearing.missed():
        print(hearing.missed(), file=sys.stderr)
    return code, live


def _wanted(args: argparse.Namespace) -> SoundOptions:
    """What to hear, by the options."""
    from runner.live.sound_controls import SoundOptions

    return SoundOptions(args.mute, args.voice, args.volume, args.voice_volume)


def _last_words(code: int, live: Live | None, args: argparse.Namespace, data: Path) -> int:
    """Tell what a person has to know after the session; returns the exit code."""
    if live is None:
        return code
    from runner.live.session_setup import damage, rescue

    state, keeper = live.driver.state, live.driver.keeper
    if keeper.deferred:
        return code  # nothing was begun or written
    if state.phase == "closed" and state.complete is False:
        nothing = "" if state.rows else ", no set done"
        plan = shown(args.plan or "PLAN")
        _say(
            f"session closed before its end{nothing}. matside rehearse {plan} shows the whole "
            "timeline"
        )
    if state.phase != "closed" and keeper.on_file:
        begun = f"{live.info.local(0):%H:%M}"
        _say(
            f"the session started {begun} stays open. Continue it with: "
            f"{shown(_how_to_resume(args))}"
        )
    path = record_path(data, trial=live.info.trial)
    lost = keeper.trouble or "writing takes too long"
    trouble = lost if keeper.lost else damage(live, path)
    if trouble:
        rescued = rescue(live, data)
        _say(f"NOT KEPT in the record: {shown(trouble)}")
        where = f"is in {shown(rescued)}" if rescued else "cannot be written anywhere"
        _say(f"this session's CSV {where}")
        return Exit.IO if code == Exit.OK else code
    return code


def _how_to_resume(args: argparse.Namespace) -> str:
    """The command that continues this session."""
    named = [] if args.trainee is None else ["--for", args.trainee]
    where = [] if args.data is None else ["--data", str(args.data)]
    plan = [] if args.plan is None else [args.plan]
    return shlex.join(["matside", "run", *plan, *named, *where, "--resume"])


def _say(text: str) -> None:
    """Tell a person, unless the terminal is gone."""
    with suppress(OSError, ValueError):
        print(f"matside: {text}", file=sys.stderr)
