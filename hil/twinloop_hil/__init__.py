"""The bench: the link's client, the virtual board, and the checks that prove a board."""
