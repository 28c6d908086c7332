"""Line mode, out: one tab-separated line for each event."""

from __future__ import annotations

from typing import Any

from runner import text
from runner.live.driver import SettledEvent
from runner.record.rows import SessionInfo
from runner.session import events as ev

_ESCAPES = str.maketrans({"\\": "\\\\", "\t": "\\t", "\n": "\\n", "\r": "\\n"})
_LEFT_OUT = {"history", "changes"}
_YES_IS_SILENT = {"counted"}


def line_of(settled: SettledEvent, info: SessionInfo) -> str:
    """The line for one event: UTC, name, then key=value pairs."""
    event = settled.event
    pairs: dict[str, Any] = {"phase": settled.phase}
    if isinstance(event, ev.Opened):
        pairs |= {
            "session": info.id, "plan": info.plan, "plan_session": info.session,
            "trainee": info.trainee,
        }  # fmt: skip
    for name, value in ev.to_data(event).items():
        if name in _LEFT_OUT or (name in _YES_IS_SILENT and value == "yes"):
            continue
        pairs[name] = info.utc_text(value) if name == "until" else value
    if not settled.kept:
        pairs["kept"] = "no"
    fields = [f"{name}={_value(value)}" for name, value in pairs.items()]
    return "\t".join([info.utc_text(event.at), event.name, *fields])


def _value(value: object) -> str:
    if isinstance(value, list):
        return ",".join(map(_value, value)) or "none"
    if isinstance(value, float):
        return f"{round(value, 3):.10g}"
    return text.shown(str(value).translate(_ESCAPES), "?")
