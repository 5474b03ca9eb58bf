"""Settings from the environment and from flags."""

from pathlib import Path

import pytest

from wrung_service.settings import Settings
from wrung_service.settings_reading import SettingsError, read_settings, unknown_variables, variable


def test_defaults_listen_on_loopback_only() -> None:
    """Nobody else on the network reaches a service that was told nothing."""
    assert read_settings({}, {}).bind_host == "127.0.0.1"


def test_environment_sets_and_flags_override() -> None:
    """A flag is nearer than the environment."""
    environment = {"WRUNG_BIND_PORT": "9000", "WRUNG_QUEUE_LENGTH": "3", "OTHER": "x"}

    settings = read_settings(environment, {"bind_port": "9001"})

    assert (settings.bind_port, settings.queue_length) == (9001, 3)


def test_every_fault_is_reported_at_once() -> None:
    """Nobody should have to start the service once for each of his slips."""
    environment = {"WRUNG_MAX_BLOCKS": "0", "WRUNG_BIND_PORT": "http", "WRUNG_GRACE_SECONDS": "-1"}

    with pytest.raises(SettingsError) as refused:
        read_settings(environment, {"queue_length": "many"})

    named = [fault.partition(":")[0] for fault in refused.value.faults]
    assert sorted(named) == [
        "--grace-seconds (WRUNG_GRACE_SECONDS)",
        "--max-blocks (WRUNG_MAX_BLOCKS)",
        "--port (WRUNG_BIND_PORT)",
        "--queue-length (WRUNG_QUEUE_LENGTH)",
    ]


@pytest.mark.parametrize(
    "name",
    [name for name in Settings.__struct_fields__ if not isinstance(getattr(Settings(), name), str)],
)
def test_every_number_has_an_upper_bound(name: str) -> None:
    """A slip of the pen must not start a million threads."""
    with pytest.raises(SettingsError, match="at most"):
        read_settings({variable(name): "999999999999"}, {})


@pytest.mark.parametrize(
    ("name", "given", "said"),
    [
        ("bind_port", "http", "must be an integer"),
        ("bind_port", "1.5", "must be an integer"),
        ("queue_length", "-1", "must be an integer of at least 0"),
        ("grace_seconds", "soon", "must be a number"),
        ("tracing", "yes", "must be on or off"),
        ("access", "on", "must be required or off"),
        (
            "path_prefix",
            "tools/",
            "must be a path such as /tools/wrung, without a slash at its end",
        ),
    ],
)
def test_a_fault_says_what_the_setting_must_be(name: str, given: str, said: str) -> None:
    with pytest.raises(SettingsError) as refused:
        read_settings({}, {name: given})

    assert [fault.partition("): ")[2] for fault in refused.value.faults] == [said]


def test_settings_that_contradict_each_other_are_refused() -> None:
    """A default beyond the limit could never be served."""
    with pytest.raises(SettingsError, match="WRUNG_DEFAULT_TIME_LIMIT_MS"):
        read_settings({"WRUNG_MAX_TIME_LIMIT_MS": "100"}, {})


def test_variables_that_an_orchestrator_sets_are_no_settings() -> None:
    """Kubernetes sets WRUNG_PORT to an address for every pod beside a Service called wrung."""
    environment = {"WRUNG_PORT": "tcp://10.0.0.7:80", "WRUNG_SERVICE_HOST": "10.0.0.7"}

    assert read_settings(environment, {}).bind_port == Settings().bind_port
    assert unknown_variables(environment) == ["WRUNG_PORT", "WRUNG_SERVICE_HOST"]


def test_limits_are_the_published_part() -> None:
    """What is published says nothing of hosts and ports."""
    limits = Settings(max_blocks=7, solve_workers=3).limits

    assert (limits.max_blocks, limits.solve_workers) == (7, 3)
    assert "bind_host" not in limits.__struct_fields__


@pytest.mark.parametrize(
    "url", ["crib.example", "https://crib.example/", "https://a b", "ftp://a", "https://a/?q=1"]
)
def test_an_address_that_no_code_could_begin_with_is_refused(url: str) -> None:
    with pytest.raises(SettingsError, match="WRUNG_PUBLIC_URL"):
        read_settings({"WRUNG_PUBLIC_URL": url}, {})


def test_an_address_of_the_service_may_have_a_port_and_a_prefix() -> None:
    url = "http://10.1.2.3:8000/tools/wrung"

    assert read_settings({"WRUNG_PUBLIC_URL": url}, {}).public_url == url


def test_a_secret_may_be_in_a_file(tmp_path: Path) -> None:
    secret = tmp_path / "store-url"
    secret.write_text("postgresql://wrung:s3cret@db/crib\n", encoding="utf-8")
    environment = {"WRUNG_STORE_URL_FILE": str(secret), "WRUNG_ACCESS": "required"}

    assert read_settings(environment, {}).store_url == "postgresql://wrung:s3cret@db/crib"
    assert unknown_variables(environment) == []


def test_a_file_that_cannot_be_read_and_two_values_are_refused(tmp_path: Path) -> None:
    """Without its secret a service would run as another one."""
    gone = {"WRUNG_STORE_URL_FILE": str(tmp_path / "gone"), "WRUNG_CONTACT_FILE": "/a"}
    twice = {"WRUNG_CONTACT": "a@b.example", "WRUNG_CONTACT_FILE": "/a"}

    with pytest.raises(SettingsError, match=r"WRUNG_STORE_URL_FILE: .*gone.*CONTACT_FILE"):
        read_settings(gone, {})
    with pytest.raises(SettingsError, match="only one of them"):
        read_settings(twice, {})
