"""Hypothesis profiles, and signals as a terminal's shell leaves them.

`ci` draws the same examples every time, `dev` new ones.
"""

from __future__ import annotations

import os

from hypothesis import settings

from tests.lines.process import heed_signals

settings.register_profile("ci", derandomize=True, deadline=None, print_blob=True)
settings.register_profile("dev", deadline=None)
settings.load_profile("ci" if os.environ.get("CI") else "dev")

heed_signals()
