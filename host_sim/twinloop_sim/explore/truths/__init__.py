"""What must be true after every step, whatever the inputs: written from the design, not the table.

A truth is a function that says whether it is broken. It sees the state, the settings, the step's
inputs, and a memory that follows the commands: where the valve may be, what was pumped, which
limit was crossed. Where the core is stricter than the design, a truth asks for the design only.

One file a topic, in the order of the rows of the rules' table. A topic's REASONS are the rows it
judges, each with its duty; its TRUTHS are the truths. core.py compiles these files together.
"""

from .judge import TOPICS, TRUTHS, broken, names_of
from .memory import MEMORY, begin

__all__ = ["MEMORY", "TOPICS", "TRUTHS", "begin", "broken", "names_of"]
