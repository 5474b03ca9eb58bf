"""Doctor, backup and the chain of history, as an operator meets them."""

import json
import os
import re
import subprocess
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg
import pytest
import sqlalchemy as sa
from click.testing import CliRunner, Result

from postgres import programs
from store.rows import START, add_plan, add_promise, add_site
from wrung_service.commands.group import command_line
from wrung_service.store import history
from wrung_service.store.checking import broken_at, overlaps
from wrung_service.store.engine import Store
from wrung_service.store.history import Event
from wrung_service.usecases.examine_store import examine

SITE = "north-hall"


def run(*arguments: str) -> Result:
    return CliRunner().invoke(command_line, arguments)


def note(connection: sa.Connection, *subjects: str) -> None:
    for subject in subjects:
        event = Event(
            site=SITE, at=START, who="a test", what="block.made", kind="block", subject=subject
        )
        history.append(connection, event)


@contextmanager
def restored_from(backup: Path, original: str) -> Iterator[Store]:
    """The store that the README's way of restoring makes of a backup."""
    if original.startswith("sqlite"):
        store = Store(f"sqlite:///{backup}")
        yield store
        store.close()
        return
    server, _, name = original.rpartition("/")
    with psycopg.connect(f"{server}/postgres", autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}_again".encode())
    try:
        command = ["pg_restore", "--exit-on-error", "--dbname", f"{original}_again", str(backup)]
        subprocess.run(command, check=True)  # noqa: S603 - the tests' own
        store = Store(f"{original}_again")
        yield store
        store.close()
    finally:
        with psycopg.connect(f"{server}/postgres", autocommit=True) as connection:
            connection.execute(f"DROP DATABASE {name}_again WITH (FORCE)".encode())


@pytest.fixture
def filled(store: Store) -> Store:
    with store.writing() as connection:
        add_site(connection, SITE, "a", "b")
        add_plan(connection, "p1")
        add_promise(connection, "p1", "a", (0, 1))
        note(connection, "a", "b", "a")
    return store


@pytest.mark.usefixtures("filled")
def test_the_address_of_a_store_may_be_in_a_file(
    store_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert "Missing option '--store-url'" in run("doctor").output
    secret = tmp_path / "secret"
    monkeypatch.setenv("WRUNG_STORE_URL_FILE", str(secret))
    assert "WRUNG_STORE_URL_FILE" in run("doctor").output

    secret.write_text(f"{store_url}\n", encoding="utf-8")

    assert run("doctor").exit_code == 0
    assert run("migrate").exit_code == 0


def test_a_worker_is_not_asked_what_a_service_that_listens_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The image says where to listen, for all of its commands."""
    monkeypatch.setenv("WRUNG_BIND_HOST", "0.0.0.0")  # noqa: S104 - nobody listens
    told = run("worker", "--store-url", f"sqlite:///{tmp_path}/none.db")
    assert told.exit_code == 2
    assert "WRUNG_ACCESS" not in told.output


def test_a_store_as_it_must_be_passes(filled: Store, store_url: str) -> None:
    assert all(check.right for check in examine(filled))
    told = run("doctor", "--store-url", store_url)
    assert told.exit_code == 0, told.output
    assert "WRONG" not in told.output
    assert run("verify-history", "--store-url", store_url, "--site", SITE).exit_code == 0
    assert run("verify-history", "--store-url", store_url, "--site", "nowhere").exit_code == 2


def test_double_promises_are_found_without_the_rule(filled: Store) -> None:
    """The look-up is no part of what refuses them."""
    with filled.writing() as connection:
        if filled.on_sqlite:
            connection.exec_driver_sql("DROP TRIGGER promise_overlap_insert")
        else:
            connection.exec_driver_sql("ALTER TABLE promise DROP CONSTRAINT promise_overlap")
        add_plan(connection, "p2")
        add_promise(connection, "p2", "a", (0.5, 2))
        add_promise(connection, "p2", "b", (0, 1))
        assert len(overlaps(connection)) == 1
    wrong = {check.name: check.found for check in examine(filled) if not check.right}
    assert wrong.keys() == {"rules", "promises"}
    assert re.fullmatch(
        r"1 of a block at one time; a in promise \d+ of plan p1 and \d+ of plan p2",
        wrong["promises"],
    )


def test_a_rule_that_was_broken_already_is_made_once_somebody_decided(
    filled: Store, store_url: str
) -> None:
    """PostgreSQL makes no rule that does not hold; SQLite's is about what comes."""
    if filled.on_sqlite:
        return
    with filled.writing() as connection:
        connection.exec_driver_sql("ALTER TABLE promise DROP CONSTRAINT promise_overlap")
        add_plan(connection, "p2")
        add_promise(connection, "p2", "a", (0.5, 2))
    told = run("migrate", "--store-url", store_url)
    assert (told.exit_code, "`wrung doctor` names" in told.output) == (2, True), told.output
    found = next(check.found for check in examine(filled) if check.name == "promises")
    number = re.findall(r"and (\d+) of plan p2", found)[0]

    with filled.writing() as connection:
        free = sa.text("UPDATE promise SET released_at = now() WHERE n = :n")
        connection.execute(free, {"n": int(number)})

    assert run("migrate", "--store-url", store_url).exit_code == 0
    assert all(check.right for check in examine(filled))


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE history SET who = 'somebody' WHERE number = 2",
        "UPDATE history SET detail = '{\"a\":1}' WHERE number = 2",
        "DELETE FROM history WHERE number = 2",
    ],
)
def test_a_changed_history_is_found_at_its_entry(
    filled: Store, store_url: str, change: str
) -> None:
    """Even if somebody owns the database and switches the rules off."""
    with filled.writing() as connection:
        for name in ("history_no_update", "history_no_delete"):
            if filled.on_sqlite:
                connection.exec_driver_sql(f"DROP TRIGGER {name}")
        if not filled.on_sqlite:
            connection.exec_driver_sql("ALTER TABLE history DISABLE TRIGGER USER")
        connection.exec_driver_sql(change)
        assert broken_at(connection, SITE) == 2
    wrong = [check for check in examine(filled) if not check.right]
    assert [check.name for check in wrong] == ["rules", f"history {SITE}"]
    # Whoever changed it may not have put the rules back.
    told = run("verify-history", "--store-url", store_url)
    assert (told.exit_code, "entry 2 is not as it was written" in told.output) == (3, True)


def test_an_empty_database_is_told_from_a_damaged_one(tmp_path: Path) -> None:
    (tmp_path / "new.db").touch()
    told = run("doctor", "--store-url", f"sqlite:///{tmp_path}/new.db")
    assert told.exit_code == 3
    assert "WRONG  revision: None" in told.output


@pytest.mark.parametrize("command", ["doctor", "verify-history"])
def test_looking_at_a_mistyped_name_makes_nothing(command: str, tmp_path: Path) -> None:
    """The next look would find an empty store there."""
    told = run(command, "--store-url", f"sqlite:///{tmp_path}/mistyped.db")
    assert told.exit_code == 2
    assert not (tmp_path / "mistyped.db").exists()


def test_a_backup_made_while_others_write_is_whole(
    filled: Store, store_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each transaction writes two entries, so a torn one would show as an odd number."""
    # pg_dump stands beside the server that the tests run.
    monkeypatch.setenv("PATH", f"{programs() or ''}{os.pathsep}{os.environ['PATH']}")
    target = tmp_path / "copy"
    stop = threading.Event()

    def write() -> None:
        while not stop.is_set():
            filled.write(lambda connection: note(connection, "a", "b"))

    writer = threading.Thread(target=write)
    writer.start()
    made = run("backup", "--store-url", store_url, str(target))
    stop.set()
    writer.join()
    assert made.exit_code == 0, made.output
    assert target.stat().st_size > 0
    with restored_from(target, store_url) as restored:
        checks = examine(restored)
        with restored.reading() as connection:
            count = connection.exec_driver_sql("SELECT count(*) FROM history").scalar_one()
        assert all(check.right for check in checks), checks
        assert count >= 3
        assert count % 2 == 1
        # It is a store like any other: what is written next goes on with its history.
        restored.write(lambda connection: note(connection, "a", "b"))
        assert all(check.right for check in examine(restored))
    assert run("backup", "--store-url", store_url, str(target)).exit_code == 2


@pytest.mark.usefixtures("filled")
def test_commands_that_cannot_do_it_say_why(
    store_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PATH", f"{programs() or ''}{os.pathsep}{os.environ['PATH']}")
    at = ("--store-url", store_url)
    key = ("keys", "add", *at, "--scope", "read")
    for command in (
        ("backup", *at, str(tmp_path / "nowhere" / "copy")),
        ("migrate", *at, "--role", "nobody_of_that_name"),
        (*key, "--holder", ""),
        (*key, "--holder", "erp", "--expires", "2026-01-01"),
    ):
        said = run(*command)
        assert (said.exit_code, said.exception.__class__) == (2, SystemExit), command
        assert said.output
    assert list(tmp_path.glob("*.part")) == []


def test_a_role_without_rights_is_told_who_gives_them(store: Store, store_url: str) -> None:
    if store.engine.dialect.name == "sqlite":
        return  # It has no roles.
    with store.writing() as connection:
        connection.exec_driver_sql("CREATE ROLE without_rights LOGIN")
    address = sa.make_url(store_url).set(username="without_rights").render_as_string()
    try:
        said = run("doctor", "--store-url", address)
    finally:
        with store.writing() as connection:
            connection.exec_driver_sql("DROP ROLE without_rights")
    assert said.exit_code == 2
    assert "lacks rights" in said.output


def test_a_shelf_goes_out_and_comes_in_again(store: Store, store_url: str, tmp_path: Path) -> None:
    """As JSON with its sets, and as CSV of its blocks; a preview changes nothing."""
    with store.writing() as connection:
        add_site(connection, SITE)
    at = ("--store-url", store_url, "--site", SITE)
    shelf = tmp_path / "shelf.json"
    blocks = ", ".join(
        f'{{"id": "saw/{length}", "set": "saw", "nominal": "{length}", "grade": "1"}}'
        for length in ("5", "10", "20.5")
    )
    shelf.write_text(f'{{"unit": "mm", "sets": [{{"id": "saw"}}], "blocks": [{blocks}]}}')

    assert run("import", *at, "--preview", str(shelf)).exit_code == 0
    assert "saw" not in run("export", *at).output
    made = run("import", *at, str(shelf))
    assert made.exit_code == 0, made.output
    table = run("export", *at, "--csv").output
    assert table.count("\n") == 4
    again = tmp_path / "blocks.csv"
    again.write_text(table)
    assert run("import", *at, "--csv", str(again)).exit_code == 0
    assert run("export", *at, "--csv").output == table
    assert run("import", *at, "--csv", str(shelf)).exit_code == 2
    assert run("export", "--store-url", store_url, "--site", "nowhere").exit_code == 2


def test_sets_of_a_site_are_compared_or_refused_in_the_language_asked_for(
    store: Store, store_url: str, tmp_path: Path
) -> None:
    with store.writing() as connection:
        add_site(connection, SITE)
    at, shelf = ("--store-url", store_url, "--site"), tmp_path / "shelf.json"
    shelf.write_text(
        json.dumps(
            {
                "unit": "mm",
                "sets": [{"id": "near"}, {"id": "worn"}],
                "blocks": [
                    {"id": name, "set": name, "nominal": "2", "grade": "1", "condition": condition}
                    for name, condition in (("near", "fit"), ("worn", "damaged"))
                ],
            }
        )
    )
    assert run("import", *at, SITE, str(shelf)).exit_code == 0

    told = run("compare", "near", "metric-103", *at, SITE).output
    assert re.search(r"can be built +1 +1\n", told), told
    for name in ("worn", "far"):
        refused = run("compare", name, "near", *at, SITE, "--language", "de")
        assert refused.exit_code == 2
        assert f"der Standort hat keinen Satz '{name}'" in refused.output
    nowhere = run("compare", "near", "near", *at, "nowhere", "--language", "de")
    assert nowhere.exit_code == 2
    assert "Nicht vorhanden" in nowhere.output
