# Two commands a newcomer needs: `make demo` and `make test`. Everything else is for contributors.
PYTHON ?= python3
VENV   := .venv
BIN    := $(VENV)/bin
STAMP  := $(VENV)/.installed
DEVSTAMP := $(VENV)/.installed-dev
# Run pip through the interpreter: a cloned or moved environment's pip script may point elsewhere.
PIP    := $(BIN)/python -m pip install --quiet --disable-pip-version-check -c requirements.lock

.PHONY: demo test check lint types rooms unit errors bench browser-tools lock clean

demo: $(STAMP)
	$(BIN)/python -m sheetlark demo demo-output

test: $(DEVSTAMP) browser-tools check unit

check: lint types rooms

lint: $(DEVSTAMP)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .

types: $(DEVSTAMP)
	$(BIN)/mypy

rooms: $(DEVSTAMP)
	$(BIN)/lint-imports

# Three for two cores: the browser tests wait more than they work.
unit: $(DEVSTAMP)
	$(BIN)/python -m pytest -n 3 --dist loadgroup

errors: $(DEVSTAMP)
	rm -rf .published-errors
	$(BIN)/python -m pytest tests/published -n 2
	$(BIN)/python scripts/errors_table.py

bench: $(DEVSTAMP)
	$(BIN)/python -m pytest benchmarks --benchmark-enable -q -p no:xdist

browser-tools:
	@sh scripts/browser_tools.sh

$(BIN)/python:
	$(PYTHON) -m venv $(VENV)

$(STAMP): $(BIN)/python pyproject.toml requirements.lock
	$(PIP) -e .
	@touch $@

$(DEVSTAMP): $(BIN)/python pyproject.toml requirements.lock
	$(PIP) -e '.[dev]'
	@touch $@ $(STAMP)

# Re-freeze the tried versions after a deliberate upgrade.
lock: $(DEVSTAMP)
	$(BIN)/python -m pip freeze --exclude-editable | grep -viE '^(pip|setuptools|wheel)==' > requirements.lock

clean:
	rm -rf demo-output .pytest_cache .mypy_cache .ruff_cache .import_linter_cache build dist
