"""A plan and people whose every text tries to be something else than a text."""

from __future__ import annotations

# What a plan's reader takes, for it is plain text: markup, a shell's words, paths, formulas.
MARKUP, SHELL, TICKS, PATH = "[bold red]x[/]", "$(touch pwned)", "`touch pwned`", "../../pwned"
FORMULA, PIPE, XML, OPTION = "=1+1", "|touch pwned", "<script>a&b</script>", "-w pwned"
PRINTABLE = (MARKUP, SHELL, TICKS, PATH, FORMULA, PIPE, XML, OPTION)

# What it must not take: what drives a terminal or turns text around.
CONTROLS = (
    "\x1b[2J", "\x1b]0;pwned\x07", "\x9b31m", "\x9d0;pwned\x9c", "\x07", "\x08\x08", "\r", "\n",
    "\x7f", "\x00", "\u202e", "\u2066", "\u2028", "\u2029", "\x85",
)  # fmt: skip

TRAINEE = "=Ada [bold]$(touch pwned)|../../pwned"

ALL = " ".join((FORMULA, *PRINTABLE))


def plan(text: str = ALL) -> str:
    """A plan that stands anywhere where a text may stand with this one; no set lasts long."""
    said = '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
    unit = '"' + text.replace("\\", "\\\\").replace('"', '\\"').replace(";", ",") + '"'
    name = unit.replace("=", "~")
    return f"""\
title = {said}
summary = {said}
cautions = [{said}]
[timing]
recovery = "8s"
changeover = ["2s", "3s"]
lead_in = "2s"
[week]
sessions = [3, 4]
sets = [10, 20]
[station.bar]
name = {said}
change = "2s"
bears_body_weight = true
check = {said}
[exercise.press]
name = {said}
short = "=1+1|`"
pattern = "horizontal push"
prime = ["chest"]
assist = ["triceps"]
cues = [{said}]
caution = {said}
instead = ["row"]
station = "bar"
load_on = "back"
way_out = {said}
[[exercise.press.version]]
id = "one"
name = {said}
setup = {{ {name} = {unit} }}
body_share = 0.5
source = {said}
[[exercise.press.version]]
id = "two"
name = {said}
load = {{ from = 4, to = 8, by = 2 }}
[exercise.row]
name = {said}
pattern = "horizontal pull"
prime = ["upper-back"]
sides = "left first"
[[exercise.row.version]]
id = "one"
name = {said}
[[session]]
id = "A"
name = {said}
warm_up = "2s"
warm_up_moves = [{said}]
cool_down = "2s"
cool_down_moves = [{said}]
[[session.block]]
do = [{{ exercise = "press", sets = 2 }}, {{ exercise = "row", sets = 2 }}]
"""


def shelf() -> str:
    """The exercises of that plan as a shelf, to compose from: neither is the other's substitute."""
    head, sessions = plan().index("[timing]"), plan().index("[[session]]")
    return plan()[head:sessions].replace('instead = ["row"]\n', "")


LINES = (
    "", "", f"note {ALL}\x1b[2J\u202e\x9b31m", "go", "", "12", "go", "", "go", "", "8 9", "go",
    f"pain {ALL}\x1b[2J", "harder", f"\x1b[2J\u202e{ALL}", f"setup {ALL}",
    f"setup a={SHELL}\u202e", "", "10", "go", "", "go", "", "7 7", "skip", "drop", "advice",
    "keep", "end",
)  # fmt: skip
