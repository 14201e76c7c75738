# Everything is installed in .venv in this folder; nothing but python3 (3.11 or newer, with venv) and make is needed before.
PYTHON ?= python3
BIN = .venv/bin
READY = .venv/ready
NODE_READY = .venv/node/ready
STUBS_READY = .venv/stubs/ready
STUBS = 1.29.0.post1
PYRIGHT = .venv/node/node_modules/pyright/index.js
JOBS ?= 1

.PHONY: demo test lint bench storm year mutants fuzz hil picture pages setup clean

setup: $(READY)

$(READY): pyproject.toml
	@$(PYTHON) -c 'import sys; sys.exit(0 if sys.version_info >= (3, 11) else "Twinloop needs Python 3.11 or newer, this is " + sys.version.split()[0])'
	@echo "Setting up .venv (a minute or two, once)"
	@$(PYTHON) -m venv .venv
	@$(BIN)/pip install --quiet --disable-pip-version-check --editable '.[dev]'
	@touch $(READY)

# A 32-bit MicroPython for the proofs of the runtime, and the type checker, where npm is. Without it their tests are skipped and say
# what was not shown.
$(NODE_READY): package.json | $(READY)
	@mkdir -p .venv/node
	@cp package.json .venv/node/
	@if ! command -v npm > /dev/null; then echo "No npm on this machine: nothing will be shown for 32-bit MicroPython"; \
	elif npm install --prefix .venv/node --no-package-lock --no-audit --no-fund --silent; then touch $(NODE_READY); \
	else echo "npm could not install a 32-bit MicroPython: nothing will be shown for it"; fi

# What MicroPython offers on each kind of board, as type stubs: in folders of their own, because both describe the same modules.
$(STUBS_READY): Makefile | $(READY)
	@for kind in rp2 esp32; do rm -rf .venv/stubs/$$kind; \
	$(BIN)/pip install --quiet --disable-pip-version-check --target .venv/stubs/$$kind micropython-$$kind-stubs==$(STUBS) || exit 1; done
	@touch $(STUBS_READY)

# The main job: a week of real weather through the firmware, then the same files behind a serial line on the virtual board, by some
# of the checks (`twinloop bench` runs all).
demo: $(READY)
	$(BIN)/twinloop simulate
	$(BIN)/twinloop bench start-difference stop-difference tank-limit charge-limit collector-limit collector-lost host-gone step-exception power-cut --port virtual

# Four workers for two cores, because a test of a board waits for its clock; the order of the files is that of tests/conftest.py.
# Many tests start processes, which would compile every source anew where the environment forbids to keep bytecode.
test: $(READY) $(NODE_READY)
	PYTHONDONTWRITEBYTECODE= $(BIN)/pytest -n 4 --dist loadfile --no-loadscope-reorder

lint: $(READY) $(NODE_READY) $(STUBS_READY)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/lint-imports
	@if test -f $(PYRIGHT); then for kind in rp2 esp32; do \
	echo "types of the firmware on $$kind"; node $(PYRIGHT) -p firmware/pyright-$$kind.json || exit 1; done; \
	else echo "No type checker (it comes through npm): the firmware's types were not checked"; fi

bench: $(READY)
	$(BIN)/python -m twinloop_sim.measure.__main__

# Every check of the bench on the virtual board: three minutes.
hil: $(READY)
	$(BIN)/twinloop bench --port virtual

# Years of random weather, plants, settings, faults and people: five of seed 1, two each of stations without a bypass, and one each of
# twenty more seeds. A quarter of an hour; see twinloop storm --help.
storm: $(READY)
	$(BIN)/twinloop storm --years 5 --seed 1 --out runs/storm
	$(BIN)/twinloop storm --years 2 --seed 1 --topology series --out runs/storm
	$(BIN)/twinloop storm --years 2 --seed 1 --topology none --out runs/storm
	@for seed in 2 3 4 5 6 7 8 9 10 11 12 13 14 15 16 17 18 19 20 21; do \
		$(BIN)/twinloop storm --years 1 --seed $$seed --out runs/storm || exit 1; \
	done

# Whole years through the thermal model: closure, convergence of the solar fraction, halves against the whole. Some minutes.
year: $(READY)
	$(BIN)/pytest -m annual

# Does a test fail when the control core does? Hours; goes on where it was interrupted. JOBS=2 for two at a time; KIND=conditional for
# a core that is wrong only in one topology, without one sensor or in one duty, of which SAMPLE=150 draws some at random.
KIND ?= slips
mutants: $(READY)
	$(BIN)/python tests/mutants/run.py --kind $(KIND) $(if $(SAMPLE),--sample $(SAMPLE)) --explained docs/mutants.md --jobs $(JOBS)

# Random calls with a good CRC, in this process and on MicroPython: nothing may break. Ten minutes; MINUTES=60 for longer, SEED=1000 for other lines.
MINUTES ?= 10
SEED ?= 1
fuzz: $(READY)
	$(BIN)/python tests/fuzz/run.py --minutes $(MINUTES) --seed $(SEED)

# The tables in docs and the scenario schema, from the code; tests compare.
pages: $(READY)
	@for page in names states lost_sensors schema; do $(BIN)/python -m twinloop_sim.pages.$$page || exit 1; done

# The picture of the README: the top of a report, drawn by Chromium and reduced to 64 colours.
picture: $(READY)
	@command -v chromium > /dev/null || { echo "make picture needs chromium (Debian: apt-get install chromium)"; exit 1; }
	$(BIN)/twinloop simulate --out runs/picture
	@profile=$$(mktemp -d) && timeout 120 chromium --headless --no-sandbox --disable-gpu --disable-background-networking --hide-scrollbars \
		--user-data-dir=$$profile --force-device-scale-factor=0.75 --window-size=1300,1035 \
		--screenshot=runs/picture/report.png "file://$(CURDIR)/runs/picture/report.html" && rm -rf $$profile
	$(BIN)/python -c "from PIL import Image; Image.open('runs/picture/report.png').convert('RGB')\
	.quantize(64, dither=0).save('docs/report.png', optimize=True)"

clean:
	rm -rf .venv build dist runs .pytest_cache .ruff_cache .hypothesis .import_linter_cache
