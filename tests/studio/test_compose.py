"""The containers: nothing secret written down, nothing open that need not be."""

import re
from pathlib import Path

import pytest
import yaml

HERE = Path(__file__).resolve().parents[2]
TEXT = (HERE / "docker-compose.yml").read_text(encoding="utf-8")
COMPOSE = yaml.safe_load(TEXT)
APP, DB = COMPOSE["services"]["app"], COMPOSE["services"]["db"]


@pytest.mark.parametrize("name", ["SECRET_KEY", "POSTGRES_PASSWORD", "STUDIO_HOSTS", "STUDIO_SETUP_CODE"])
def test_what_must_be_secret_or_known_is_demanded(name):
    uses = re.findall(r"\$\{" + name + r"[^}]*\}", TEXT)

    assert uses
    assert all(use.startswith("${" + name + ":?") for use in uses)


def test_the_app_is_reached_from_this_machine_alone_and_the_database_not_at_all():
    assert APP["ports"] == ["127.0.0.1:8000:8000"]
    assert "ports" not in DB
    assert DB["networks"] == ["inside"]
    assert COMPOSE["networks"]["inside"] == {"internal": True}


@pytest.mark.parametrize("service", [APP, DB])
def test_every_container_is_watched_restarted_and_held_tight(service):
    assert service["healthcheck"]["test"]
    assert service["restart"] == "unless-stopped"
    assert service["read_only"] is True
    assert "no-new-privileges:true" in service["security_opt"]


def test_the_app_runs_as_a_person_without_rights_from_exact_versions():
    image = APP["build"]["dockerfile_inline"]

    assert "FROM python:3.13-slim" in image
    assert "-c requirements.lock" in image
    assert image.index("USER studio") < image.index("CMD")
    assert APP["cap_drop"] == ["ALL"]


def test_the_app_waits_for_its_database_and_both_keep_what_they_know():
    assert APP["depends_on"]["db"]["condition"] == "service_healthy"
    assert APP["volumes"] == ["data:/data"]
    assert DB["volumes"] == ["db:/var/lib/postgresql/data"]
    assert set(COMPOSE["volumes"]) == {"data", "db"}


def test_what_the_image_takes_along_exists():
    for line in APP["build"]["dockerfile_inline"].splitlines():
        if line.startswith("COPY "):
            for name in line.split()[1:-1]:
                assert (HERE / name).exists(), name
