"""The bench: the client of the link, the virtual board, and the checks that prove a board before it is installed."""
