"""What ``GET /metrics`` says, read by the parser of Prometheus's own library."""

from prometheus_client.parser import text_string_to_metric_families

from service.bodies import request, target
from service.conftest import Client, Start

Figures = dict[tuple[str, tuple[tuple[str, str], ...]], float]


def figures(client: Client) -> Figures:
    """By name and labels."""
    response = client.get("/metrics")
    assert response.status_code == 200, response.text
    assert response.headers["content-type"].startswith("text/plain")
    return {
        (sample.name, tuple(sorted(sample.labels.items()))): sample.value
        for family in text_string_to_metric_families(response.text)
        for sample in family.samples
    }


def named(found: Figures, name: str, **labels: str) -> float:
    """The sum of the samples of that name that have these labels."""
    wanted = set(labels.items())
    return sum(value for (of, has), value in found.items() if of == name and wanted <= set(has))


def test_requests_are_counted_by_route_and_status(start: Start) -> None:
    """Templates of routes, never paths: a path can be anything."""
    client = start()
    client.post("/v1/stacks", json=request())
    client.post("/v1/stacks", json=request(unit="ft"))
    client.get("/v1/compositions/nothing-of-that-name")
    client.get("/nowhere/at/all")
    found = figures(client)

    def requests(**labels: str) -> float:
        return named(found, "wrung_http_requests_total", **labels)

    assert requests(method="POST", route="/v1/stacks", status="200") == 1
    assert requests(method="POST", route="/v1/stacks", status="400") == 1
    assert requests(route="/v1/compositions/{composition_id}", status="404") == 1
    assert requests(route="none", status="404") == 1
    assert named(found, "wrung_problems_total", problem="invalid-request") == 1
    assert named(found, "wrung_http_request_seconds_count", route="/v1/stacks") == 2
    assert not any(
        "nothing-of" in value or "at/all" in value for _, has in found for _, value in has
    )


def test_searches_are_counted_by_outcome_with_their_stages(start: Start) -> None:
    """A plan that serves all needs no explanation in it; one that does not has one."""
    client = start()
    client.post("/v1/stacks", json=request())
    client.post("/v1/stacks", json=request(targets=[target("op20", "9.9")]))
    found = figures(client)
    assert named(found, "wrung_search_seconds_count", outcome="optimal") == 1
    assert named(found, "wrung_search_seconds_count", outcome="infeasible") == 1
    for stage in ("check", "search", "changes", "explain"):
        assert named(found, "wrung_search_stage_seconds_count", stage=stage) == 2
    stages = named(found, "wrung_search_stage_seconds_sum")
    assert 0 < stages <= named(found, "wrung_search_seconds_sum")
    assert named(found, "wrung_proof_gap_ratio_count") == 2
    assert named(found, "wrung_proof_gap_ratio_sum") == 0


def test_a_service_without_a_crib_says_nothing_of_one(start: Start) -> None:
    """Nor that its store is down."""
    found = {name for name, _ in figures(start())}
    assert "wrung_workers" in found
    assert "wrung_store_up" not in found
    assert "wrung_promised_blocks" not in found


def test_open_metrics_end_once(start: Start) -> None:
    """Whoever asks for them."""
    accept = "application/openmetrics-text; version=1.0.0"
    response = start().get("/metrics", headers={"Accept": accept})
    assert response.headers["content-type"].startswith("application/openmetrics-text")
    assert "\nwrung_workers " in response.text
    assert response.text.endswith("# EOF\n")
    assert response.text.count("# EOF") == 1
