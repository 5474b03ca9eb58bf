"""The one console command."""

from importlib.metadata import version

import pytest

from wrung_service.__main__ import main
from wrung_service.settings import Settings, variable


def test_help_names_every_setting_with_its_variable(capsys: pytest.CaptureFixture[str]) -> None:
    """Nobody should have to read the code to set something."""
    with pytest.raises(SystemExit) as ended:
        main(["serve", "--help"])

    told = capsys.readouterr().out
    assert ended.value.code == 0
    for name in Settings.__struct_fields__:
        assert variable(name) in told
        assert f"--{name.removeprefix('bind_').replace('_', '-')} " in told


@pytest.mark.parametrize("arguments", [[], ["stop"], ["serve", "--colour", "red"]])
def test_what_is_not_a_command_ends_with_2(
    arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """With a sentence on standard error."""
    with pytest.raises(SystemExit) as ended:
        main(arguments)

    assert ended.value.code == 2
    assert "usage" in capsys.readouterr().err


def test_version_is_that_of_the_package(capsys: pytest.CaptureFixture[str]) -> None:
    """The first thing to say in a report of a fault."""
    with pytest.raises(SystemExit) as ended:
        main(["--version"])

    assert ended.value.code == 0
    assert capsys.readouterr().out.split() == ["wrung", version("wrung")]
