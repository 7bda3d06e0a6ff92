# One command each; all are safe to repeat.
.PHONY: serve test check bench reliability openapi screenshots clean
PYTHON ?= python3
BIN := .venv/bin
HOST ?= 127.0.0.1
PORT ?= 8321

serve: .venv/run
	$(BIN)/spoolwright serve --demo --host $(HOST) --port $(PORT)

test: check
	$(BIN)/pytest -n 2 tests

check: .venv/test
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports

bench: .venv/test
	$(BIN)/python -m benchmarks

# A thousand kills, power cuts (as root) and flipped bits each, with the least claim on the machine.
reliability: .venv/test
	nice -n 15 $(BIN)/python -m benchmarks reliability

.venv/run: pyproject.toml requirements.lock
	test -x $(BIN)/uv || ( $(PYTHON) -m venv .venv && $(BIN)/pip -q --disable-pip-version-check install 'uv>=0.11,<1' )
	VIRTUAL_ENV=$(CURDIR)/.venv $(BIN)/uv pip install -q --require-hashes -r requirements.lock
	VIRTUAL_ENV=$(CURDIR)/.venv $(BIN)/uv pip install -q --no-deps -e .
	touch $@

.venv/test: .venv/run requirements-test.lock
	VIRTUAL_ENV=$(CURDIR)/.venv $(BIN)/uv pip install -q --require-hashes -r requirements-test.lock
	touch $@

openapi: .venv/test
	$(BIN)/python -m api.openapi docs/openapi.json

screenshots: .venv/test
	$(BIN)/python tests/support/screenshots.py

clean:
	rm -rf .venv build dist
