"""Generators: tables of docs and the scenario schema, made from the code."""
