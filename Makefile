# Everything that people and CI do here. Each target may run again and again.
SERVE ?= 1
PORT ?= 8000
PYTHON := .venv/bin/python
MANAGE := $(PYTHON) manage.py

.PHONY: help venv setup demo test check lint types contracts service bench serve stop

help:
	@echo "make demo     set up, play one whole job over the API, then serve it (SERVE=0: end after the story)"
	@echo "make serve    web server, worker and beat on this machine until Ctrl-C (PORT=8000, or the next free one)"
	@echo "make stop     end whatever serves from this checkout, and its private PostgreSQL and Redis"
	@echo "make test     set up and run all tests"
	@echo "make check    format, lint, types, import contracts, migrations, API schema (-j2: two at a time)"
	@echo "make bench    measure speed and memory"
	@echo "make setup    only prepare .venv and the system's parts"

venv:
	@bash config/setup.sh

setup: venv
	@bash config/setup.sh solvers

demo: setup
	@$(MANAGE) demo --port $(PORT) $(if $(filter 0,$(SERVE)),--no-serve)

serve: setup
	@$(MANAGE) serve --port $(PORT)

stop:
	@if test -x $(PYTHON); then $(MANAGE) serve --stop && $(MANAGE) services stop; fi

test: setup
	@bash config/setup.sh chromium
	$(PYTHON) -m pytest -n 2 $(ARGS)

check: lint types contracts service

lint: venv
	.venv/bin/ruff format --check .
	.venv/bin/ruff check .

types: venv
	.venv/bin/mypy

contracts: venv
	.venv/bin/lint-imports

service: venv
	$(MANAGE) services run $(MANAGE) makemigrations --check --dry-run
	$(MANAGE) check --fail-level WARNING
	$(MANAGE) spectacular --validate --fail-on-warn --file var/openapi.yaml
	diff -u config/openapi.yaml var/openapi.yaml

bench: setup
	$(PYTHON) -m tests.bench $(ARGS)
