# Everything a newcomer needs: `make demo` and `make test`. The rest is for contributors.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
WORKERS ?= auto

.PHONY: help demo test check lint types imports security format lock wheel screenshots bench factors coverage fuzz fuzz-path kill kill-desks kill-recording bill lowest clean

help: ## Show this list
	@grep -hE '^[a-z-]+:.*## ' $(MAKEFILE_LIST) | sed -E 's/^([a-z-]+):.*## /  make \1\t/' | expand -t 24

demo: $(VENV)/.runtime ## Import the invented sample logs and build the dashboard
	@$(BIN)/spooldown demo demo

test: $(VENV)/.dev ## Run every test, real headless Chromium included
	@sh tools/browser.sh
	@sh tools/object_storage.sh $(VENV)
	$(BIN)/python -m pytest -n $(WORKERS) --dist loadfile --no-loadscope-reorder

check: lint types imports security ## Run linter, type checker, import contracts and the look for unsafe code

lint: $(VENV)/.dev
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .

types: $(VENV)/.dev
	$(BIN)/mypy

security: $(VENV)/.dev
	$(BIN)/bandit -q -c pyproject.toml -r analyser importers reports spooldown -ll
	@if [ -x $(BIN)/pip-audit ]; then $(BIN)/pip-audit -r requirements.lock --disable-pip; \
	else echo "pip-audit is not installed: known holes of the packages were not looked up (it needs a network)."; fi

imports: $(VENV)/.dev
	$(BIN)/lint-imports

format: $(VENV)/.dev ## Format and mend what the linter can
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .

lock: $(VENV)/.dev ## Refresh the lock files from pyproject.toml
	$(BIN)/uv pip compile -q --upgrade --universal --python-version 3.11 --generate-hashes --no-header \
	  --extra build pyproject.toml -o requirements.lock
	$(BIN)/uv pip compile -q --universal --python-version 3.11 --generate-hashes --no-header \
	  --extra build --extra dev -c requirements.lock pyproject.toml -o requirements-dev.lock

wheel: $(VENV)/.dev ## Build the wheel into dist/
	rm -rf dist && $(BIN)/python -m build --wheel --no-isolation --outdir dist .

screenshots: demo $(VENV)/.dev ## Refresh the README's pictures from the demo
	@sh tools/browser.sh
	$(BIN)/python tools/screenshots.py demo docs/pictures

bench: $(VENV)/.dev ## Run every benchmark (minutes); each prints ratios to a reference
	@set -e; for file in benchmarks/*.py; do echo "== $$file"; $(BIN)/python $$file; done
	@echo "== the timer's odds, kept against promised"; $(BIN)/python -m tests.coverage.table --only odds

factors: $(VENV)/.dev ## Make the importer's file of factors between units from pint's registry
	$(BIN)/python -m tests.importers.factors_file

coverage: $(VENV)/.dev ## Count how often every interval holds the truth; writes docs/coverage.md (minutes)
	$(BIN)/python -m tests.coverage.page
	$(BIN)/python -m tests.coverage.programme
	$(BIN)/python -m tests.coverage.redundancy

FUZZ_SECONDS ?= 180
fuzz: $(VENV)/.dev ## Fuzz the importer for FUZZ_SECONDS (180); what breaks it lands in tests/fuzz/corpus
	$(BIN)/python tests/fuzz/fuzz_import.py -max_total_time=$(FUZZ_SECONDS)

FUZZ_ROUNDS ?= 6
fuzz-path: $(VENV)/.dev ## Spoil logs and take them to pages and exports, ten a round, FUZZ_ROUNDS times (6)
	$(BIN)/python -m tests.fuzz.whole_path $(FUZZ_ROUNDS) $$(date +%j%H%M)

bill: $(VENV)/.dev ## Write a bill of materials and the licences of what a user installs into dist/
	@sh tools/bill.sh $(PYTHON) dist

lowest: $(VENV)/.dev ## Run the tests with the lowest versions that pyproject.toml allows
	@sh tools/lowest.sh $(BIN)

KILLS ?= 1000
kill: $(VENV)/.dev ## Kill a process that changes a logbook KILLS times (1000) and see that nothing is lost
	$(BIN)/python tests/spooldown/killing.py $(KILLS)

DESK_KILLS ?= 40
kill-desks: $(VENV)/.dev ## Kill one of two desks of a logbook DESK_KILLS times (40) while both save and commands run
	$(BIN)/python tests/desk/killing.py $(DESK_KILLS)

RECORDING_KILLS ?= 200
kill-recording: $(VENV)/.dev ## Kill a recorder RECORDING_KILLS times (200) and see that it kept what was sent
	$(BIN)/python tests/live/killing.py $(RECORDING_KILLS)

clean: ## Remove the environment and everything built
	rm -rf $(VENV) build dist demo

# The environment, from the lock files alone; hashes make it the same everywhere.
$(VENV)/bin/python:
	@sh tools/environment.sh $(PYTHON) $(VENV)

$(VENV)/.runtime: requirements.lock pyproject.toml | $(VENV)/bin/python
	@[ -e $(VENV)/.dev ] || $(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements.lock
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation -e .
	@touch $@

$(VENV)/.dev: requirements-dev.lock pyproject.toml | $(VENV)/bin/python
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements-dev.lock
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation -e .
	@touch $@ $(VENV)/.runtime
