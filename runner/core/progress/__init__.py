"""What is aimed at, what became of it, and what follows from it. Pure."""
