"""All faults, in the order in which the command makes them.

Apart from the package itself: `asleep` must not load what starts threads, as numpy does.
"""

from tests.faults import damage, keys, sound, storage, terminal, times

FAULTS = (
    *storage.FAULTS,
    *damage.FAULTS,
    *times.FAULTS,
    *terminal.FAULTS,
    *keys.FAULTS,
    *sound.FAULTS,
)
