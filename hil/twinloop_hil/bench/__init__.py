"""The `bench` command: run checks, record and report them."""
