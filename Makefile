# Everything happens in .venv in this folder; nothing but python3 (3.11 or newer, with venv) and make is needed before.
PYTHON ?= python3
BIN = .venv/bin
READY = .venv/ready

.PHONY: demo test lint bench setup clean

setup: $(READY)

$(READY): pyproject.toml
	@$(PYTHON) -c 'import sys; sys.exit(0 if sys.version_info >= (3, 11) else "Twinloop needs Python 3.11 or newer, this is " + sys.version.split()[0])'
	@echo "Setting up .venv (a minute or two, once)"
	@$(PYTHON) -m venv .venv
	@$(BIN)/pip install --quiet --disable-pip-version-check --editable '.[dev]'
	@touch $(READY)

# The main job: a week of real weather through the firmware, then the same files behind a serial line on the virtual board.
demo: $(READY)
	$(BIN)/twinloop simulate
	$(BIN)/twinloop bench --port virtual

test: $(READY)
	$(BIN)/pytest -n 2 --dist loadfile

lint: $(READY)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/lint-imports

bench: $(READY)
	$(BIN)/python -m twinloop_sim.measure

clean:
	rm -rf .venv build dist runs .pytest_cache .ruff_cache .hypothesis .import_linter_cache
