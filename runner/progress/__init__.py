"""The rules by which counts become the next session's levels; pure."""
