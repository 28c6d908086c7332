"""Hypothesis profiles, and signals as a terminal's shell leaves them.

`ci` draws the same examples every time, `dev` new ones.
"""

from __future__ import annotations

import os
import signal

from hypothesis import settings

settings.register_profile("ci", derandomize=True, deadline=None, print_blob=True)
settings.register_profile("dev", deadline=None)
settings.load_profile("ci" if os.environ.get("CI") else "dev")

# A shell starts what it runs in the background, and nohup its command, with signals ignored; a
# program that is started inherits that, and the tests send these signals to such programs.
for name in ("SIGINT", "SIGQUIT", "SIGHUP"):
    number = getattr(signal, name, None)  # Windows has but the first
    if number is not None and signal.getsignal(number) == signal.SIG_IGN:
        usual = signal.default_int_handler if name == "SIGINT" else signal.SIG_DFL
        signal.signal(number, usual)
