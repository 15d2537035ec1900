"""The demo's story holds on real parts, and the README's calls do what they say."""

import json
import re
import subprocess
from pathlib import Path

import pytest
from django.utils import timezone
from jsonschema import Draft202012Validator

from config.serving import serving
from jobs.models import Job
from readings.models import Check, SiteTemperature
from scheduling.actions.record import SCHEMA
from scheduling.demo import scenario
from scheduling.demo.play import play
from scheduling.management.commands.demo import people
from scheduling.models import Certificate, Notice
from tests.database import database_url

README = Path(__file__).parent.parent / "README.md"


@pytest.mark.django_db(transaction=True)
def test_the_story_holds_twice_and_the_readme_calls_do_what_they_say(tmp_path, monkeypatch):
    monkeypatch.setenv("DATABASE_URL", database_url())
    monkeypatch.setenv("DJANGO_SETTINGS_MODULE", "tests.settings")
    monkeypatch.delenv("PUBLIC_URL")  # private links begin with where it serves
    told: list[str] = []
    now = timezone.now()  # noqa: TID251 (the server's clock is the real one)
    people()
    with serving(port=8500, logs=tmp_path) as running:
        for _ in range(2):
            play(url=running.url, now=now, folder=tmp_path, tell=told.append)
        assert Job.objects.count() == 2
        assert Check.objects.filter(outcome="undecided").count() == 2
        assert all(row.acknowledged_by for row in Notice.objects.all())
        schema = Draft202012Validator(json.loads(SCHEMA.read_text()))
        for row in Certificate.objects.all():
            schema.validate(row.data)
            assert (tmp_path / f"certificate-{row.number}.pdf").read_bytes()[:5] == b"%PDF-"
        _readme(running.url)
    assert SiteTemperature.objects.filter(celsius=18.5).count() == 1
    story = "\n".join(told)
    assert "This range cannot tell." in story
    assert "Refused: Something stands in the way of heat." in story
    assert scenario.PASSWORD not in story


def _readme(url: str) -> None:
    """Run the README's shell calls as they stand, but for the server's address."""
    (calls,) = re.findall(r"```sh\n(.*?)```", README.read_text(), re.DOTALL)
    assert calls.count("curl ") >= 5
    script = calls.replace("http://127.0.0.1:8000", url)
    for _ in range(2):  # the reading that is sent again changes nothing
        ran = subprocess.run(
            ["bash", "-euo", "pipefail", "-c", script], capture_output=True, text=True, timeout=120
        )
        assert ran.returncode == 0, ran.stderr
        assert '"may_energize"' in ran.stdout
        assert '"answer"' in ran.stdout
