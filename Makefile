# Every target of the project; `make help` lists them. What a target needs is installed first (shopflow/deploy/prepare.py).
# Settings go on the command line as they would in the environment: make run PORT=9000 SHOPFLOW_DATA=/srv/shop
export PATH := $(if $(PATH),$(PATH):)/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin
PYTHON ?= python3
PY := .venv/bin/python
PYTEST := $(PY) -m pytest -q
# What a file sets up once is set up by one process only, and the browser has one for itself (tests/conftest.py).
# Three on two cores: the tests that wait for servers, workers and Chromium leave nearly half of two processes idle.
SIDE_BY_SIDE := -n 3 --dist loadgroup --no-loadscope-reorder

.DEFAULT_GOAL := help
.NOTPARALLEL:
.PHONY: help run upgrade test ready-to-run ready-to-test kernels lint types imports checks test-sqlite test-postgresql \
  test-browser bench soak format migrations clean

help: ## list the targets
	@awk -F ':.*## ' '/^[a-z-]+:.*## / { printf "%-17s %s\n", $$1, $$2 }' Makefile

run: ready-to-run ## install what is missing, load the demo shop, start everything (Ctrl-C stops it)
	@exec $(PY) -m shopflow.deploy.serve

upgrade: ready-to-run ## bring an existing shop's data folder to this version, without starting it (BACKUP=FOLDER: backed up first)
	@$(if $(BACKUP),$(PY) manage.py backup "$(BACKUP)" &&) exec $(PY) -m shopflow.deploy.serve --lay-out-only

# mypy works on one core for a minute while the kernels compile on the other and the servers of the tests start.
test: ready-to-test lint imports checks ## install what is missing, check and test everything
	@$(MAKE) -s types & types=$$!; $(MAKE) --no-print-directory test-postgresql test-sqlite; tests=$$?; \
	  wait $$types && exit $$tests

ready-to-run:
	@$(PYTHON) shopflow/deploy/prepare.py run

ready-to-test:
	@$(PYTHON) shopflow/deploy/prepare.py test

# Once, and not by each process of the tests: the same folder as in tests/settings.py.
kernels: ready-to-test ## compile the computing kernels that changed
	NUMBA_CACHE_DIR=$(CURDIR)/.data/cache/numba $(PY) -m shopflow.deploy.warm

lint: ready-to-test ## ruff: rules and format
	$(PY) -m ruff check
	$(PY) -m ruff format --check

types: ready-to-test ## mypy --strict
	$(PY) -m mypy shopflow

imports: ready-to-test ## the one way that imports may go
	$(PY) .venv/bin/lint-imports

checks: ready-to-test ## Django's checks as for a served shop, and no migration forgotten
	SITE_URL=https://shop.example ALLOWED_HOSTS=shop.example BEHIND_PROXY=1 $(PY) manage.py check --deploy --fail-level WARNING
	DJANGO_SETTINGS_MODULE=tests.settings $(PY) manage.py makemigrations --check --dry-run

test-sqlite: kernels ## all tests on SQLite, with a real Chromium against the running shop
	$(PYTEST) $(SIDE_BY_SIDE) -m "not soak and not postgres"

test-postgresql: kernels ## the tests about concurrency, ledger and work rows, on a private PostgreSQL
	$(PY) -m tests.services postgres $(PYTEST) $(SIDE_BY_SIDE) -m "both_databases or postgres"

test-browser: kernels ## only those with the real Chromium
	$(PYTEST) -m browser

bench: ready-to-test ## time the slow work against baselines measured in the same run; look for MISSED
	@for file in tests/bench/bench_*.py; do echo "== $$file"; $(PY) "$$file" || exit 1; done

soak: ready-to-test ## long runs with killed workers and lost networks
	$(PYTEST) -m soak

format: ready-to-test ## ruff: put rules and format right where it can
	$(PY) -m ruff check --fix
	$(PY) -m ruff format

migrations: ready-to-test ## write the migrations that changed models need
	DJANGO_SETTINGS_MODULE=tests.settings $(PY) manage.py makemigrations

clean: ## remove what was installed or made here; a shop's data stays
	rm -rf .venv node_modules shopflow/static/built .pytest_cache .mypy_cache .ruff_cache .import_linter_cache .hypothesis
	find shopflow tests -name __pycache__ -type d -prune -exec rm -rf {} +
