"""The production shape, read as data: it says what the code does, and gives nothing away."""

import re
from importlib.util import find_spec
from pathlib import Path

import pytest
import yaml
from celery.app.utils import find_app
from django.conf import settings
from django.core.management import get_commands

from config import health, services, serving
from scheduling.actions.plans import SOLVE

CHECKOUT = Path(__file__).resolve().parents[2]
COMPOSE = yaml.safe_load((CHECKOUT / "docker-compose.yml").read_text())
DOCKERFILE = (CHECKOUT / "Dockerfile").read_text()
SERVICES = COMPOSE["services"]
OURS = [name for name, service in SERVICES.items() if service.get("image") == "firstwarm"]
READS_A_VARIABLE = re.compile(r"""(?:\benv(?:\.\w+)?\(|os\.environ(?:\.get\(|\[))\s*"([A-Z_]+)\"""")


def variables_that_the_code_reads() -> set[str]:
    sources = ("config/settings.py", "config/services.py", "config/gunicorn.py")
    return {
        name
        for source in sources
        for name in READS_A_VARIABLE.findall((CHECKOUT / source).read_text())
    }


def filled(value: str, **given: str) -> str:
    """What compose makes of a value, with the variables `given`."""
    return re.sub(r"\$\{(\w+)(?::[-?][^}]*)?\}", lambda found: given[found[1]], value)


def option(command: list[str], name: str) -> str:
    return command[command.index(name) + 1]


def test_every_part_of_the_house_is_there():
    assert set(SERVICES) == {"database", "broker", "migrate", "web", "worker", "planner", "beat"}
    assert set(OURS) == {"migrate", "web", "worker", "planner", "beat"}


@pytest.mark.parametrize("name", sorted(set(SERVICES) - {"migrate"}))
def test_what_stays_up_is_looked_at_and_restarted(name):
    assert SERVICES[name]["healthcheck"]["test"]
    assert SERVICES[name]["restart"] == "unless-stopped"


@pytest.mark.parametrize("name", OURS)
def test_each_variable_is_one_that_the_code_reads(name):
    assert set(SERVICES[name]["environment"]) <= variables_that_the_code_reads()


@pytest.mark.parametrize("name", OURS)
def test_what_has_no_default_for_production_is_given(name):
    needed = {"SECRET_KEY", "DATABASE_URL", "REDIS_URL", "ALLOWED_HOSTS", "PUBLIC_URL"}
    assert needed <= set(SERVICES[name]["environment"])


def test_no_secret_is_written_down_and_a_missing_one_is_asked_for():
    environment = SERVICES["web"]["environment"]
    assert environment["SECRET_KEY"].startswith("${SECRET_KEY:?")
    assert ":${DATABASE_PASSWORD:?" in environment["DATABASE_URL"]
    assert SERVICES["database"]["environment"]["POSTGRES_PASSWORD"].startswith(
        "${DATABASE_PASSWORD:?"
    )
    assert "TLS" not in environment
    assert not re.search(r"(SECRET|PASSWORD|TOKEN|KEY)\w*=", DOCKERFILE)


def test_the_database_that_the_code_asks_for_is_the_one_that_runs(monkeypatch):
    url = filled(SERVICES["web"]["environment"]["DATABASE_URL"], DATABASE_PASSWORD="s3cret")
    monkeypatch.setenv("DATABASE_URL", url)
    settings, database = services.database_settings(), SERVICES["database"]
    assert settings["HOST"] == "database"
    assert settings["PORT"] == "5432"
    assert settings["PASSWORD"] == "s3cret"
    assert settings["NAME"] == database["environment"]["POSTGRES_DB"]
    assert settings["USER"] == database["environment"]["POSTGRES_USER"]
    image, major = database["image"].split(":")
    assert image == "postgres"
    assert int(major) >= 15


def test_the_broker_that_the_code_asks_for_is_the_one_that_runs(monkeypatch):
    monkeypatch.setenv("REDIS_URL", SERVICES["web"]["environment"]["REDIS_URL"])
    assert services.broker_url().startswith("redis://broker:6379/")
    assert SERVICES["broker"]["image"].startswith("redis:")


def test_the_web_command_names_an_application_and_a_configuration():
    command = SERVICES["web"]["command"]
    assert command[:2] == ["gunicorn", "config.wsgi"]
    assert find_spec(command[1]) is not None
    assert find_spec("config.gunicorn") is not None
    assert option(command, "--config") == "python:config.gunicorn"
    assert f"CMD {command}".replace("'", '"') in DOCKERFILE


def test_the_web_port_is_the_same_everywhere():
    web = SERVICES["web"]
    port = option(web["command"], "--bind").rpartition(":")[2]
    (published,) = web["ports"]
    assert published.endswith(f":{port}")
    assert published.startswith("127.0.0.1:")
    assert f"http://127.0.0.1:{port}{health.PATH}" in web["healthcheck"]["test"][-1]
    assert f"EXPOSE {port}" in DOCKERFILE


@pytest.mark.parametrize("name", ["worker", "planner", "beat"])
def test_celery_finds_its_application(name):
    command = SERVICES[name]["command"]
    assert command[0] == "celery"
    assert ("beat" if name == "beat" else "worker") in command
    assert find_app(option(command, "--app")).main == "firstwarm"


def test_each_queue_has_its_worker():
    taken = [option(SERVICES[name]["command"], "--queues") for name in ("worker", "planner")]
    assert taken == serving.queues()
    assert settings.CELERY_TASK_ROUTES == {SOLVE: {"queue": "plans"}}


def test_the_migration_runs_once_before_everything_else():
    migrate = SERVICES["migrate"]
    assert migrate["command"][:3] == ["python", "manage.py", "migrate"]
    assert "migrate" in get_commands()
    assert migrate["restart"] == "no"
    for name in ("web", "worker", "planner", "beat"):
        condition = SERVICES[name]["depends_on"]["migrate"]["condition"]
        assert condition == "service_completed_successfully"


def test_papers_are_kept_and_shared_by_those_who_make_and_show_them():
    for name in ("web", "worker"):
        folder = SERVICES[name]["environment"]["FILES_DIR"]
        assert f"files:{folder}" in SERVICES[name]["volumes"]
    mounted = {
        volume.partition(":")[0]
        for service in SERVICES.values()
        for volume in service.get("volumes", [])
    }
    assert mounted == set(COMPOSE["volumes"])


def test_the_image_runs_without_root_from_the_hashed_lock():
    assert re.search(r"^USER firstwarm$", DOCKERFILE, re.MULTILINE)
    assert "--require-hashes -r requirements.lock" in DOCKERFILE


def test_the_image_has_the_same_system_parts_as_the_set_up():
    setup = (CHECKOUT / "config/setup.sh").read_text()
    needed = set(re.findall(r'"(lib[a-z0-9.-]+|fonts-[a-z]+)"', setup))
    packages = {name for name in needed if ".so" not in name}
    assert len(packages) == 4
    assert packages <= set(DOCKERFILE.split())
