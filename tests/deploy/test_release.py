"""The checks of a release that need no tools."""

import importlib.util
import subprocess
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).parents[2]
NEWS = "# Changelog\n\n## [Unreleased]\n\n{left}## [9.8.7] - 2027-03-01\n\n- New.\n"
CHART = "version: {chart}\nappVersion: 9.8.7\n"
DOCUMENT = '{{"info": {{"version": "{document}"}}}}'


@pytest.fixture
def release(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """Of a version that is not this one, in a clone that has only what is looked at."""
    spec = importlib.util.spec_from_file_location("release", ROOT / "deploy" / "release.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    (tmp_path / "service").mkdir()
    for name, value in {"ROOT": tmp_path, "CHART": tmp_path, "VERSION": "9.8.7"}.items():
        monkeypatch.setattr(module, name, value)
    return module


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        (NEWS.format(left=""), ""),
        (NEWS.format(left="- Not yet.\n\n"), "something is left under"),
        (NEWS.format(left="").replace(" - 2027-03-01", ""), "no heading"),
        (NEWS.format(left="").replace("9.8.7", "9.8.6"), "no heading"),
    ],
)
def test_the_changelog_must_have_the_version(
    release: ModuleType, tmp_path: Path, text: str, fault: str
) -> None:
    (tmp_path / "CHANGELOG.md").write_text(text, encoding="utf-8")
    if fault:
        with pytest.raises(release.NotReadyError, match=fault):
            release.changelog(tmp_path)
    else:
        assert release.changelog(tmp_path) == "[9.8.7] - 2027-03-01"


@pytest.mark.parametrize(
    ("chart", "document", "fault"),
    [
        ("9.8.7", "9.8.7", ""),
        ("9.8.6", "9.8.7", "Chart.yaml version"),
        ("9.8.7", "9.8.6", "openapi.json"),
    ],
)
def test_one_version_everywhere(
    release: ModuleType, tmp_path: Path, chart: str, document: str, fault: str
) -> None:
    (tmp_path / "Chart.yaml").write_text(CHART.format(chart=chart), encoding="utf-8")
    path = tmp_path / "service" / "openapi.json"
    path.write_text(DOCUMENT.format(document=document), encoding="utf-8")
    if fault:
        with pytest.raises(release.NotReadyError, match=fault):
            release.versions(tmp_path)
    else:
        assert release.versions(tmp_path) == "9.8.7"


def test_the_version_before_is_its_tag_or_the_commit_that_wrote_its_heading(
    release: ModuleType, tmp_path: Path
) -> None:
    def git(*arguments: str) -> str:
        command = ["git", "-c", "user.name=a", "-c", "user.email=a@example.org", *arguments]
        return subprocess.check_output(command, cwd=tmp_path, text=True).strip()  # noqa: S603 - our own

    def commit(text: str) -> str:
        (tmp_path / "CHANGELOG.md").write_text(text, encoding="utf-8")
        git("add", "CHANGELOG.md")
        git("commit", "--quiet", "--message", "a")
        return git("rev-parse", "HEAD")

    git("init", "--quiet")
    older = "## [9.8.6] - 2027-02-01\n"
    wrote = commit(older)
    commit(f"## [9.8.7] - 2027-03-01\n{older}")
    assert release.version_before() == wrote
    git("tag", "v9.8.6")
    assert release.version_before() == "v9.8.6"

    commit("## [9.8.7] - 2027-03-01\n")
    with pytest.raises(release.NotReadyError, match="no version before"):
        release.version_before()
