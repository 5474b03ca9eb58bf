"""Alerts, dashboard and chart name figures that the service has; each alert is in the runbook."""

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import promql_parser
import pytest
import yaml
from litestar.testing import TestClient
from prometheus_client.parser import text_string_to_metric_families

from service.bodies import request
from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.store.engine import Store

MONITORING = Path(__file__).parents[2] / "deploy" / "monitoring"
RULES: list[dict[str, Any]] = [
    rule
    for group in yaml.safe_load((MONITORING / "alerts.yaml").read_text(encoding="utf-8"))["groups"]
    for rule in group["rules"]
]
DASHBOARD = json.loads((MONITORING / "dashboard.json").read_text(encoding="utf-8"))
CHART = MONITORING.parent / "helm" / "wrung" / "templates"
OF_PROMETHEUS = {"up"}


def expressions() -> Iterator[str]:
    for rule in RULES:
        yield rule["expr"]
    for panel in DASHBOARD["panels"]:
        for each in panel["targets"]:
            yield each["expr"].replace("$__rate_interval", "5m")
    for template in CHART.glob("*.yaml"):
        yield from re.findall(r"metric: \{name: (\w+)\}", template.read_text(encoding="utf-8"))


def selected(expression: str) -> list[tuple[str, set[str]]]:
    """The figures of an expression, each with the labels that are asked of it."""
    found: list[tuple[str, set[str]]] = []

    def note(node: promql_parser.Expr) -> None:
        if isinstance(node, promql_parser.VectorSelector):
            found.append((node.name or "", {each.name for each in node.matchers.matchers}))

    promql_parser.walk(promql_parser.parse(expression), note)
    return found


@pytest.fixture
def there(store: Store) -> dict[str, set[str]]:
    """By name, the labels of every figure that the service can have."""
    with TestClient(create_app(Settings(), store=store)) as client:
        client.post("/v1/stacks", json=request())
        client.post("/v1/stacks", json=request(unit="ft"))
        text = client.get("/metrics").text
    found: dict[str, set[str]] = {}
    for family in text_string_to_metric_families(text):
        for sample in family.samples:
            found.setdefault(sample.name, set()).update(sample.labels)
    return found


def test_every_figure_is_there_with_its_labels(there: dict[str, set[str]]) -> None:
    """Read by a parser of the language."""
    seen: set[str] = set()
    for expression in expressions():
        found = selected(expression)
        assert found, expression
        for name, labels in found:
            seen.add(name)
            own = labels - {"job", "instance"}
            assert name in OF_PROMETHEUS or own <= there[name], expression
    assert len(seen) > 15


def test_each_alert_is_in_the_runbook() -> None:
    """Under the heading that it links to, and there is no heading without an alert."""
    runbook = (MONITORING / "RUNBOOK.md").read_text(encoding="utf-8")
    headings = re.findall(r"^## (\w+)$", runbook, flags=re.MULTILINE)
    assert headings == [rule["alert"] for rule in RULES]
    for rule in RULES:
        assert rule["annotations"]["runbook"] == f"RUNBOOK.md#{rule['alert'].lower()}"
        assert rule["labels"]["severity"] in {"page", "ticket"}


def test_what_refusals_are_called_is_so() -> None:
    """Alerts on single problems name problems of the document."""
    problems = set(create_app(Settings()).document["components"]["examples"])
    named = {
        name
        for rule in RULES
        for names in re.findall(r'problem=~?"([^"]+)"', rule["expr"])
        for name in names.split("|")
    }
    assert named
    assert named <= problems
