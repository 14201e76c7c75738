"""Link torture: bad lines, floods, silence and reconnects, and what they must not do to the board."""

from .measures import CHECKS

__all__ = ["CHECKS"]
