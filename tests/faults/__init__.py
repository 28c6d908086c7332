"""Faults done to sessions on purpose, and what was lost by them: nothing."""

from tests.faults import damage, storage, times

FAULTS = (*storage.FAULTS, *damage.FAULTS, *times.FAULTS)
