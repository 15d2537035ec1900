"""The walls of the house, held by looking at all of it."""

import ast
import importlib
import pkgutil
from collections.abc import Iterator
from pathlib import Path

import grimp
import pytest
from django.apps import apps
from django.db import models

import config
import jobs
import readings
import scheduling
from config.errors import DomainError
from config.problems import PROBLEMS
from config.tenancy import SameContractor, TenantModel
from jobs.models import Member

PACKAGES = (config, jobs, readings, scheduling)
APPS = ("jobs", "readings", "scheduling")
# Modules (and packages) of an app that may know Django; every other one is pure.
MAY_KNOW_DJANGO = {
    "actions",
    "admin",
    "api",
    "apps",
    "forms",
    "management",
    "migrations",
    "models",
    "pages",
    "requests",
    "specs",
    "tasks",
    "templatetags",
    "urls",
    "urls_api",
}


def modules() -> Iterator[str]:
    for package in PACKAGES:
        yield package.__name__
        for found in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
            if ".migrations" not in found.name and found.name != "config.gunicorn":
                yield found.name


@pytest.fixture(scope="module")
def graph() -> grimp.ImportGraph:
    return grimp.build_graph(
        "config",
        "jobs",
        "readings",
        "scheduling",
        include_external_packages=True,
        cache_dir=None,
    )


def test_every_refusal_has_its_row_in_the_table():
    for name in modules():
        importlib.import_module(name)

    def kinds(kind: type[DomainError]) -> Iterator[type[DomainError]]:
        yield kind
        for inner in kind.__subclasses__():
            yield from kinds(inner)

    missing = {
        f"{kind.__module__}.{kind.__name__}: {kind.slug}"
        for kind in kinds(DomainError)
        if kind.slug not in PROBLEMS and not kind.__module__.startswith("tests")
    }
    assert missing == set()


def test_pure_modules_know_no_django_not_even_through_another(graph):
    found = {}
    for module in sorted(graph.modules):
        app, *rest = module.split(".")
        if app not in APPS or not rest or rest[0] in MAY_KNOW_DJANGO:
            continue
        for outside in ("django", "rest_framework", "celery"):
            if outside in graph.modules and (
                chain := graph.find_shortest_chain(importer=module, imported=outside)
            ):
                found[module] = chain
    assert found == {}


def test_config_knows_no_app(graph):
    outward = {
        (importer, imported)
        for importer in graph.modules
        if importer.split(".")[0] == "config"
        for imported in graph.find_modules_directly_imported_by(importer)
        if imported.split(".")[0] in APPS
    }
    assert outward == set()


def edges() -> Iterator[Path]:
    root = Path(config.__file__).resolve().parent.parent
    for app in APPS:
        for name in ("api", "pages"):
            yield from (root / app).glob(f"{name}.py")
            yield from (root / app / name).rglob("*.py")


ASKS = {"visible", "editable", "referred"}


def unasked(tree: ast.Module) -> Iterator[int]:
    """Lines where rows are fetched without asking whose they are."""
    allowed: set[ast.AST] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            function = node.func
            if isinstance(function, ast.Name) and function.id in ASKS:
                allowed |= set(ast.walk(node.args[0]))
            if isinstance(function, ast.Attribute) and function.attr in (
                "visible_to",
                "editable_by",
            ):
                allowed |= set(ast.walk(function))
    # A queryset that is given a name first and asked through it.
    for node in ast.walk(tree):
        if isinstance(node, ast.Assign) and len(node.targets) == 1:
            names = {n.id for n in ast.walk(node.targets[0]) if isinstance(n, ast.Name)}
            asked = {n.id for n in allowed if isinstance(n, ast.Name)}
            if names <= asked:
                allowed |= set(ast.walk(node.value))
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and node.attr == "objects" and node not in allowed:
            yield node.lineno


def test_edges_fetch_rows_only_through_whoever_asks():
    found = {
        f"{path.parent.parent.name}/{path.parent.name}/{path.name}:{line}"
        for path in edges()
        for line in unasked(ast.parse(path.read_text()))
    }
    assert found == set()


def test_the_search_for_unasked_rows_finds_one():
    assert list(unasked(ast.parse("Room.objects.get(pk=1)"))) == [1]
    assert list(unasked(ast.parse("visible(Room.objects.all(), member, pk=1)"))) == []


def tenant_models() -> list[type[TenantModel]]:
    return [model for model in apps.get_models() if issubclass(model, TenantModel)]


@pytest.mark.parametrize("model", tenant_models(), ids=lambda model: model.__name__)
def test_every_reference_stays_within_its_contractor(model):
    held = {c.field for c in model._meta.constraints if isinstance(c, SameContractor)}
    references = {
        field.name
        for field in model._meta.get_fields()
        if isinstance(field, models.ForeignKey)
        and issubclass(field.related_model, TenantModel | Member)
    }
    assert references == held


@pytest.mark.parametrize("model", tenant_models(), ids=lambda model: model.__name__)
def test_every_tenant_row_can_be_pointed_at_with_its_contractor(model):
    unique = [c.fields for c in model._meta.constraints if isinstance(c, models.UniqueConstraint)]
    assert ("contractor", "id") in unique
