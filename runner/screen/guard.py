"""The guard against double keys: wet hands, bouncing buttons, a key held down.

Auto-repeat looks like presses and begins after 0.25 to 0.66 s, then comes about every 33 ms. So a
main action counts only where no main key was seen shortly before, and a press that was ignored
counts as seen. No clock: `now` and all times are seconds of one and the same clock.
"""

from __future__ import annotations

from runner.core.session.state import Phase

# Our choices; the first is a little more than the longest delay before auto-repeat.
QUIET_S = 0.7  # without any main key before one that counts
FIRST_OF_SET_S = 1.5  # in which no key ends a set
FIRST_OF_REST_S = 2.0  # in which no key cuts a rest
AFTER_SAVING_S = 2.0  # in which no key cuts a rest, since the finger may still be saving


class KeyGuard:
    """Remembers when keys were last seen and says whether one counts."""

    def __init__(self) -> None:
        self._seen: dict[str, float] = {}
        self._last: tuple[str, float] | None = None
        self._saved: float | None = None

    def fresh(self, key: str, now: float) -> bool:
        """Whether this is a press of its own, and no repeat of a key that is still held down.

        To be asked once for every key that arrives. One key may mean two things in a row: the
        remote's pause opens an entry and then saves it, enter raises a doubt and then settles it,
        `.` pauses and then goes on. Held down it must do the first of them alone. Any other key
        in between shows that it was let go.
        """
        before, self._last = self._last, (key, now)
        return before is None or before[0] != key or now - before[1] >= QUIET_S

    def saw_main(self, now: float) -> None:
        """A main key was seen that meant something else, such as saving an entry."""
        self._seen["main"] = now

    def saved(self, now: float) -> None:
        """An entry was saved."""
        self._saved = now

    def main(self, now: float, phase: Phase, since: float) -> bool:
        """Whether a main key pressed now counts; `since` is when the phase began."""
        quiet = self.once("main", now)
        if phase == "set" and now - since < FIRST_OF_SET_S:
            return False
        if phase == "rest":
            if now - since < FIRST_OF_REST_S:
                return False
            if self._saved is not None and now - self._saved < AFTER_SAVING_S:
                return False
        return quiet

    def once(self, action: str, now: float) -> bool:
        """Whether a key of this action counts: not while it is held down or bounces."""
        before = self._seen.get(action)
        self._seen[action] = now
        return before is None or now - before >= QUIET_S
