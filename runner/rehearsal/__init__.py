"""A session before it is done: as text, as pictures, as blocks to paste."""
