# Two commands do everything on a fresh machine with Python 3.11+ and make:
#   make run    the web application on an embedded book with the demo yard
#   make test   lint, types, and every test, browser included
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
PIP := $(BIN)/python -m pip install --quiet --disable-pip-version-check

.PHONY: run test check lint format lock bench twins accuracy notice commands words drawings system clean \
  prove kill kill-postgres kill-database prove-deeds prove-clients prove-full-disk prove-api prove-howto prove-pages

# -- environments ------------------------------------------------------------------------------
$(BIN)/python:
	$(PYTHON) -m venv $(VENV)

$(VENV)/.run: requirements/run.txt pyproject.toml | $(BIN)/python
	$(PIP) --require-hashes --only-binary :all: -r requirements/run.txt
	$(PIP) --no-deps --no-build-isolation -e .
	touch $@

$(VENV)/.test: requirements/test.txt $(VENV)/.run
	$(PIP) --require-hashes --only-binary :all: -r requirements/test.txt
	touch $@

# The rivals of the benchmark.
$(VENV)/.bench: requirements/bench.txt $(VENV)/.run
	$(PIP) --require-hashes --only-binary :all: -r requirements/bench.txt
	touch $@

# The check of our scripts' types; the compiler comes from npm by name and version, and is never shipped.
$(VENV)/.types: | $(BIN)/python
	npm install --prefix $(VENV)/node --no-save --no-audit --no-fund --silent typescript@5.9.3
	touch $@

# -- the two commands --------------------------------------------------------------------------
run: $(VENV)/.run
	$(BIN)/rickyard serve --demo --book demo-yard/book.sqlite

# On every core; a file's tests stay together, for they share what is dear to make.
TESTERS ?= auto
test: $(VENV)/.test system lint
	$(BIN)/python -m pytest --numprocesses $(TESTERS) --maxprocesses 4 --dist loadfile

# -- the rest ----------------------------------------------------------------------------------
system:
	sh scripts/system-packages.sh

lint: $(VENV)/.test system $(VENV)/.types
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(VENV)/node/node_modules/.bin/tsc -p tsconfig.json
	$(VENV)/node/node_modules/.bin/tsc -p tsconfig.worker.json
	sh scripts/check-locks.sh

format: $(VENV)/.test
	$(BIN)/ruff format .
	$(BIN)/ruff check --fix .

accuracy: $(VENV)/.test
	$(BIN)/python scripts/accuracy.py

notice: $(VENV)/.run
	$(BIN)/python scripts/notice.py

commands: $(VENV)/.run
	$(BIN)/python scripts/commands.py

bench: $(VENV)/.bench
	$(BIN)/python -m benchmarks --write

# An hour or more of one core: forecasts against stacks of another model; then make accuracy.
twins: $(VENV)/.test
	$(BIN)/python scripts/twins.py --write

# -- the proofs of docs/reliability.md: short forms are part of the tests, these are the long ones -----------
prove: kill kill-postgres kill-database prove-deeds prove-clients prove-full-disk prove-api prove-howto prove-pages

# The server killed in the middle of writes; about a quarter of an hour each. KILLS=20 for shorter ones.
KILLS ?= 200
kill: $(VENV)/.run
	$(BIN)/python scripts/kill_loop.py --times $(KILLS)

kill-postgres: $(VENV)/.run system
	$(BIN)/python scripts/kill_loop.py --times $(KILLS) --postgres

# Here it is the database server that is killed, and ours must live on.
kill-database: $(VENV)/.run system
	$(BIN)/python scripts/kill_loop.py --times $(KILLS) --postgres --kill database

# Random deeds in random order on both databases.
EXAMPLES ?= 200
prove-deeds: $(VENV)/.test system
	RICKYARD_EXAMPLES=$(EXAMPLES) RICKYARD_STEPS=30 $(BIN)/python -m pytest -q tests/book/test_random_deeds.py

# Twenty clients at once over HTTP on both databases, DEEDS from each, each sent twice.
DEEDS ?= 100
prove-clients: $(VENV)/.test system
	RICKYARD_DEEDS_EACH=$(DEEDS) $(BIN)/python -m pytest -q tests/book/test_clients.py -k twenty_clients

prove-full-disk: $(VENV)/.test system
	$(BIN)/python -m pytest -q tests/book/test_killed.py tests/book/test_book.py \
	  -k 'full_disk or read_only or may_not_be_written or newer or damaged'

# Requests made from the OpenAPI document: of nobody, of each role, of two households.
prove-api: $(VENV)/.test system
	RICKYARD_FUZZ=$(EXAMPLES) $(BIN)/python -m pytest -q tests/web/test_api.py tests/web/test_leaks.py

# The commands of docs/server.md, taken out of the page and run as they stand.
prove-howto: $(VENV)/.test system
	RICKYARD_PROVE=1 $(BIN)/python -m pytest -q tests/book/test_howto.py

# The listed pages on a book of ten years, on SQLite and PostgreSQL; half an hour, most of it for the book.
# DECADE=FILE keeps the book for the next time.
DECADE ?= $(VENV)/decade.sqlite
prove-pages: $(VENV)/.run system
	$(BIN)/python -m benchmarks.pages --decade $(DECADE) --write

drawings: $(VENV)/.test system
	$(BIN)/python scripts/drawings --sheet

words: $(VENV)/.test
	$(BIN)/python scripts/words.py

lock: $(BIN)/python
	$(PIP) uv
	for kind in run test bench; do \
	  $(BIN)/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-header --no-annotate \
	    requirements/$$kind.in -o requirements/$$kind.txt || exit 1; \
	done

clean:
	rm -rf $(VENV) build dist demo-yard
