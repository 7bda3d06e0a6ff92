"""Every public formula says its units and its sources, and its example comes out."""

import doctest
import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable
from types import ModuleType
from typing import Any

import pytest

import graph.engineering

MODULES = [
    importlib.import_module(f"graph.engineering.{found.name}")
    for found in pkgutil.iter_modules(graph.engineering.__path__)
    if not found.name.startswith("_")
]
FORMULAS = [
    (f"{module.__name__.rpartition('.')[2]}.{name}", thing)
    for module in MODULES
    for name, thing in vars(module).items()
    if inspect.isfunction(thing) and not name.startswith("_") and thing.__module__ == module.__name__
]
UNIT = re.compile(r"\[[^\]\n]+\]")


def section(text: str, title: str) -> str:
    """What stands under a numpy-style heading."""
    found = re.search(rf"^{title}\n-+\n(.*?)(?=^\w[\w ]*\n-+\n|\Z)", text, re.MULTILINE | re.DOTALL)
    return found[1] if found else ""


def entries(text: str) -> list[str]:
    """The entries of a section: a line at the margin and what is indented below it."""
    return re.findall(r"^\S.*(?:\n(?:[ ]+.*|$))*", text, re.MULTILINE)


@pytest.mark.parametrize("formula", [pytest.param(thing, id=name) for name, thing in FORMULAS])
def test_a_formula_says_its_units_sources_and_an_example(formula: Callable[..., Any]) -> None:
    text = inspect.getdoc(formula) or ""
    asked = [name for name in inspect.signature(formula).parameters if name != "self"]
    told = entries(section(text, "Parameters"))
    assert sorted(name.strip() for entry in told for name in entry.split(" : ")[0].split(",")) == sorted(asked)
    plain = ("Duty", "Practice", "CompressorMap", "Engine")
    for entry in told:
        of_record = any(f": {kind}" in entry.split("\n")[0] for kind in plain)
        assert UNIT.search(entry) or of_record, f"no unit: {entry}"
    assert UNIT.search(section(text, "Returns")) or "Verdict" in section(text, "Returns")
    assert re.search(r"^\[1\] ", section(text, "Sources"), re.MULTILINE)
    assert ">>> " in section(text, "Examples")


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_the_examples_come_out(module: ModuleType) -> None:
    found = doctest.testmod(module)
    assert found.attempted
    assert not found.failed


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_a_module_is_one_noun_and_asks_no_clock_and_no_file(module: ModuleType) -> None:
    first = (module.__doc__ or "").split("\n")[0]
    assert first.endswith((".", ",")) or (module.__doc__ or "").split("\n\n")[0].endswith("."), first
    source = inspect.getsource(module)
    assert not re.search(r"\b(open\(|datetime|import time|import os|requests|random)", source)


def test_nothing_promises_what_only_others_may_say() -> None:
    for module in MODULES:
        assert not re.search(r"\b(is|are) (road-)?(legal|safe)\b", inspect.getsource(module)), module.__name__


def test_there_are_formulas_at_all() -> None:
    assert len(FORMULAS) >= 80
