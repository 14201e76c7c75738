"""Link torture: bad lines, floods, silence and reconnects must not harm the board."""

from .measures import CHECKS

__all__ = ["CHECKS"]
