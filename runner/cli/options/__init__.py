"""What the command line may hold; one module a command, and `shared` for what several have.

Kept apart from the commands themselves, so that reading the command line loads none of them.
"""
