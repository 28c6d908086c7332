"""Faults done to sessions on purpose, and what was lost by them: nothing."""

from tests.faults import damage, keys, sound, storage, terminal, times

FAULTS = (
    *storage.FAULTS,
    *damage.FAULTS,
    *times.FAULTS,
    *terminal.FAULTS,
    *keys.FAULTS,
    *sound.FAULTS,
)
