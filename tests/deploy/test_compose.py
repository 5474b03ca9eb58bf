"""What the Compose file and the chart promise of every container, read as YAML."""

import json
import subprocess
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml

import wrung
from bench.memory import BASE_MB
from wrung.memory import DEFAULT_MEMORY_MB
from wrung_service.settings_reading import unknown_variables

DEPLOY = Path(__file__).parents[2] / "deploy"
CHART = DEPLOY / "helm" / "wrung"


def read(path: Path) -> Any:  # noqa: ANN401 - YAML
    return yaml.safe_load(path.read_text(encoding="utf-8"))


COMPOSE = read(DEPLOY / "compose.yaml")["services"]


@pytest.mark.parametrize("name", COMPOSE)
def test_no_container_has_rights_that_it_does_not_need(name: str) -> None:
    service = COMPOSE[name]
    assert service["read_only"]
    assert service["cap_drop"] == ["ALL"]
    assert service["security_opt"] == ["no-new-privileges:true"]
    assert not {"privileged", "network_mode", "pid"} & set(service)
    assert name in {"db", "proxy"} or "cap_add" not in service


@pytest.mark.parametrize("name", COMPOSE)
def test_settings_are_ours_and_passwords_are_in_files(name: str) -> None:
    environment = COMPOSE[name].get("environment", {})
    assert unknown_variables(environment) == []
    secret = [key for key in environment if "PASSWORD" in key or "STORE_URL" in key]
    assert all(key.endswith("_FILE") for key in secret)


def test_passwords_are_made_once_and_kept_from_others(tmp_path: Path) -> None:
    folder = tmp_path / "secrets"
    command = [str(DEPLOY / "compose" / "secrets.sh"), str(folder)]

    subprocess.run(command, check=True)  # noqa: S603 - our own
    first = {path.name: path.read_text(encoding="ascii") for path in folder.iterdir()}
    subprocess.run(command, check=True)  # noqa: S603 - our own

    assert first == {path.name: path.read_text(encoding="ascii") for path in folder.iterdir()}
    assert folder.stat().st_mode & 0o077 == 0
    assert first["service-url"] == f"postgresql://wrung:{first['service-password']}@db/crib"
    assert first["owner-password"] != first["service-password"]
    assert len(first["owner-password"]) == 48


def test_the_chart_has_the_version_of_the_package() -> None:
    chart = read(CHART / "Chart.yaml")
    assert chart["version"] == chart["appVersion"] == wrung.__version__


def test_the_chart_gives_the_memory_that_is_published() -> None:
    values, helpers = read(CHART / "values.yaml"), (CHART / "templates" / "_helpers.tpl")
    assert f"(add {BASE_MB} (mul .solveWorkers .searchMemoryMb))" in helpers.read_text("utf-8")
    assert values["server"]["searchMemoryMb"] == DEFAULT_MEMORY_MB


@pytest.mark.parametrize(
    "wrong",
    [
        {"server": {"replica": 3}},
        {"server": {"replicas": "3"}},
        {"access": "none"},
        {"settings": {"PUBLIC_URL": "https://crib.example"}},
        {"ingress": {"enabled": True, "host": "crib.example", "tlsSecret": ""}},
        {"image": {"digest": "latest"}},
    ],
    ids=json.dumps,
)
def test_values_that_mean_nothing_are_refused(wrong: dict[str, Any]) -> None:
    schema = json.loads((CHART / "values.schema.json").read_text("utf-8"))
    jsonschema.validate(read(CHART / "values.yaml"), schema)

    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(wrong, schema)
