"""Tables of docs and the scenario schema, generated from the code."""
