"""Check the Helm chart against Kubernetes' own schemas, and run what it renders.

    python -m tests.bench.helm_chart [--versions 1.31 1.37] [--play IMAGE]

Renders the chart with several values, and has each object judged strictly, unknown members refused,
by the schemas of each version of Kubernetes. With --play the rendered pods run for real under
podman, beside a PostgreSQL: first the migration to its end, then the service, whose probes are
asked. What podman leaves out: Services, policies, budgets, autoscaling, ingress. `make chart`
installs what it needs.
"""

import argparse
import json
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from tempfile import NamedTemporaryFile, TemporaryDirectory
from typing import Any, Final
from urllib.error import URLError
from urllib.request import urlopen

import yaml

_CHART: Final = Path(__file__).parents[2] / "deploy" / "helm" / "wrung"
_VERSIONS: Final = ("1.30", "1.33", "1.37")
_EVERYTHING: Final = {
    "server": {"autoscaling": {"enabled": True, "queueLength": 4}},
    "worker": {"autoscaling": {"enabled": True, "waitingRequests": 500}},
    "ingress": {"enabled": True, "host": "crib.example", "tlsSecret": "crib"},
    "serviceMonitor": {"enabled": True, "keySecret": "prometheus"},
    "networkPolicy": {
        "from": [{"podSelector": {"matchLabels": {"app": "gateway"}}}],
        "databaseTo": [{"ipBlock": {"cidr": "10.0.0.5/32"}}],
    },
    "settings": {"WRUNG_PUBLIC_URL": "https://crib.example"},
    "image": {"pullSecrets": ["registry"], "digest": f"sha256:{'0' * 64}"},
    "nodeSelector": {"kubernetes.io/os": "linux"},
    "tolerations": [{"operator": "Exists"}],
}
VALUES: Final[Mapping[str, Mapping[str, object]]] = {
    "as it comes": {},
    "everything": _EVERYTHING,
    "without a store": {"store": {"secret": ""}, "access": "off"},
}
_POD: Final = "wrung-chart"
_DATABASE: Final = f"{_POD}-database"
_PASSWORD: Final = "invented"  # noqa: S105 - of a database that is gone afterwards
_PATIENCE_S: Final = 90


def main() -> None:
    """Render and judge; with --play, run as well."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.bench.helm_chart",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--versions", nargs="+", default=_VERSIONS, metavar="VERSION")
    parser.add_argument("--play", metavar="IMAGE", help="run it with that image, under podman")
    arguments = parser.parse_args()
    for name, values in VALUES.items():
        text = rendered(values)
        _judge(text, arguments.versions)
        kinds = [each["kind"] for each in yaml.safe_load_all(text) if each]
        print(f"{name}: {', '.join(sorted(kinds))}: valid for {', '.join(arguments.versions)}")
    if arguments.play:
        _play(arguments.play)


def rendered(values: Mapping[str, object]) -> str:
    """What Helm makes of the chart with those values."""
    with TemporaryDirectory() as folder:
        file = Path(folder, "values.json")
        file.write_text(json.dumps(values), encoding="utf-8")
        _run("helm", "lint", "--strict", str(_CHART), "--values", str(file))
        return _run("helm", "template", "try", str(_CHART), "--values", str(file))


def _judge(text: str, versions: Sequence[str]) -> None:
    with TemporaryDirectory() as folder:
        file = Path(folder, "rendered.yaml")
        file.write_text(text, encoding="utf-8")
        for version in versions:
            # It knows no kinds that operators add, and says so; that is not ours to mend.
            judge = ("kubernetes-validate", "--strict", "--quiet", "--no-warn")
            _run(*judge, "--kubernetes-version", version, str(file))


def _play(image: str) -> None:
    repository, _, tag = image.rpartition(":")
    values = {"image": {"repository": repository, "tag": tag, "pullPolicy": "Never"}}
    objects = [each for each in yaml.safe_load_all(rendered(values)) if each]
    templates = (each["spec"]["template"] for each in objects if "template" in each["spec"])
    pods = {each["metadata"]["labels"]["app.kubernetes.io/component"]: each for each in templates}
    with _database() as address:
        start = time.monotonic()
        with _pod(pods["migration"], address) as name:
            migration = f"{name}-migration"
            if _run("podman", "wait", migration).strip() != "0":
                sys.exit(_logs(migration))
        print(f"migration: {time.monotonic() - start:.1f} s")
        with _pod(pods["server"], address) as name:
            _ask_probes(name, pods["server"]["spec"]["containers"][0])
            _stop(f"{name}-server")
        with _pod(pods["worker"], address) as name:
            worker = f"{name}-worker"
            if not _until(lambda: "worker_ready" in _logs(worker)):
                sys.exit(_logs(worker))
            _stop(worker)


def _stop(container: str) -> None:
    start = time.monotonic()
    _run("podman", "stop", "--time", "30", container)
    code = _run("podman", "inspect", "--format", "{{.State.ExitCode}}", container).strip()
    print(f"SIGTERM: {container} ended with {code} in {time.monotonic() - start:.1f} s")
    if code != "0":
        sys.exit(_logs(container))


@contextmanager
def _database() -> Iterator[str]:
    """A PostgreSQL with the service's role, and its address; it is removed with its data."""
    settings = {
        "POSTGRES_USER": "owner",
        "POSTGRES_DB": "crib",
        "POSTGRES_PASSWORD_FILE": "/run/password",
        "POSTGRES_INITDB_ARGS": "--encoding=UTF8 --locale=C.UTF-8",
    }
    options = [f"--env={name}={value}" for name, value in settings.items()]
    with NamedTemporaryFile("w", encoding="ascii") as password:
        password.write(_PASSWORD)
        password.flush()
        Path(password.name).chmod(0o644)
        options += ["--name", _DATABASE, "--volume", f"{password.name}:/run/password:ro"]
        _run("podman", "run", "--detach", "--pull", "never", *options, "postgres:17")
        try:
            ready = ("pg_isready", "--host", "127.0.0.1", "--username", "owner", "--dbname", "crib")
            _until(lambda: _works("podman", "exec", _DATABASE, *ready))
            role = f"create role wrung login password '{_PASSWORD}'"
            psql = ("psql", "--username", "owner", "--dbname", "crib", "--command")
            _run("podman", "exec", _DATABASE, *psql, role)
            yield _address(_DATABASE)
        finally:
            _run("podman", "rm", "--force", "--volumes", _DATABASE)


@contextmanager
def _pod(template: dict[str, Any], database: str) -> Iterator[str]:
    """A pod of that template, with the address that it reads from the Secret; its name."""
    addresses = {
        f"{who}-url": f"postgresql://{role}:{_PASSWORD}@{database}/crib"
        for who, role in {"owner": "owner", "service": "wrung"}.items()
    }
    with TemporaryDirectory() as folder:
        # Podman 4.3 mounts Secrets undecoded, so a folder stands in.
        mounted = Path(folder, "store")
        mounted.mkdir()
        (volume,) = (each for each in template["spec"]["volumes"] if "secret" in each)
        for item in volume.pop("secret")["items"]:
            (mounted / item["path"]).write_text(addresses[item["key"]], encoding="ascii")
        volume["hostPath"] = {"path": str(mounted), "type": "Directory"}
        pod = {"apiVersion": "v1", "kind": "Pod", **template}
        pod["metadata"] = {**template["metadata"], "name": _POD}
        file = Path(folder, "pod.yaml")
        file.write_text(yaml.safe_dump(pod), encoding="utf-8")
        _run("podman", "play", "kube", str(file))
        try:
            yield _POD
        finally:
            _run("podman", "play", "kube", "--down", str(file))


def _ask_probes(pod: str, container: dict[str, Any]) -> None:
    """Every probe of the container, until it is answered with 200, as a kubelet would."""
    ports = {each["name"]: each["containerPort"] for each in container["ports"]}
    host = _address(_run("podman", "pod", "inspect", "--format", "{{.InfraContainerID}}", pod))
    start = time.monotonic()
    for name in ("startupProbe", "livenessProbe", "readinessProbe"):
        asked = container[name]["httpGet"]
        address = f"http://{host}:{ports[asked['port']]}{asked['path']}"
        if not _until(partial(_answers, address)):
            sys.exit(f"{name}: {_logs(f'{pod}-server')}")
        print(f"{name}: 200 after {time.monotonic() - start:.1f} s")


def _address(container: str) -> str:
    place = "{{range .NetworkSettings.Networks}}{{.IPAddress}}{{end}}"
    return _run("podman", "inspect", "--format", place, container.strip()).strip()


def _answers(address: str) -> bool:
    try:
        with urlopen(address, timeout=3) as answer:  # noqa: S310 - our own
            return bool(answer.status == 200)
    except (URLError, OSError):
        return False


def _until(true: Callable[[], bool]) -> bool:
    end = time.monotonic() + _PATIENCE_S
    while not true():
        if time.monotonic() > end:
            return False
        time.sleep(0.2)
    return True


def _logs(container: str) -> str:
    command = ("podman", "logs", "--tail", "20", container)
    done = subprocess.run(command, capture_output=True, text=True, check=False)  # noqa: S603 - our own
    return done.stdout + done.stderr


def _works(*command: str) -> bool:
    return subprocess.run(command, capture_output=True, check=False).returncode == 0  # noqa: S603 - our own


def _run(*command: str) -> str:
    """What it prints; ends with that where it fails."""
    if shutil.which(command[0]) is None:
        sys.exit(f"{command[0]} is not installed: `make chart` installs helm and its like")
    done = subprocess.run(command, capture_output=True, text=True, check=False)  # noqa: S603 - our own
    if done.returncode:
        sys.exit(f"{' '.join(command[:3])}: {done.stdout}{done.stderr}")
    return done.stdout


if __name__ == "__main__":
    main()
