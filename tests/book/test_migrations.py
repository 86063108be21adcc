"""The migrations make exactly the tables of the models, up, down and up again, on both databases."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest
import sqlalchemy as sa
from sqlalchemy import Connection, inspect

from rickyard.book import Book, Move, migrations, post
from rickyard.book.engine import book_url, make_engine
from rickyard.book.migrations import triggers
from rickyard.book.models import Base


@contextmanager
def connected(target: str) -> Iterator[Connection]:
    engine = make_engine(book_url(target), writing=True, foreign_keys=False)
    with engine.begin() as connection:
        yield connection
    engine.dispose()


def test_the_migrated_tables_are_those_of_the_models(new_target: Callable[[], str]) -> None:
    target = new_target()
    Book.open(target, create=True).close()

    with connected(target) as connection:
        assert migrations.differences(connection) == []


def test_a_column_too_many_is_noticed(new_target: Callable[[], str]) -> None:
    """The comparison above can fail."""
    target = new_target()
    Book.open(target, create=True).close()

    with connected(target) as connection:
        connection.exec_driver_sql("ALTER TABLE yard ADD COLUMN colour VARCHAR(10)")

        assert [change[0] for change in migrations.differences(connection)] == ["remove_column"]


def test_every_check_of_the_models_is_in_the_database(new_target: Callable[[], str]) -> None:
    """Alembic does not compare CHECK constraints, so we do, by name."""
    target = new_target()
    Book.open(target, create=True).close()

    with connected(target) as connection:
        look = inspect(connection)
        for table in Base.metadata.sorted_tables:
            wanted = {str(c.name) for c in table.constraints if isinstance(c, sa.CheckConstraint)}
            assert {found["name"] for found in look.get_check_constraints(table.name)} == wanted, table.name


def test_up_down_and_up_again(new_target: Callable[[], str]) -> None:
    target = new_target()
    Book.open(target, create=True).close()

    with connected(target) as connection:
        migrations.downgrade(connection)
    with connected(target) as connection:
        assert inspect(connection).get_table_names() == [migrations.VERSION_TABLE]
        assert migrations.revision_of(connection) is None
        assert set(triggers.missing(connection)) >= {"entry_no_update", "posting_no_delete"}
    with connected(target) as connection:
        migrations.upgrade(connection)
    with connected(target) as connection:
        assert migrations.revision_of(connection) == migrations.HEAD
        assert migrations.differences(connection) == []
        assert triggers.missing(connection) == []


def test_a_book_of_0001_keeps_its_measures(new_target: Callable[[], str]) -> None:
    """Stacks measured with the stacking and again later: the book followed the later ones. Down again, too."""
    target = new_target()
    Book.open(target, create=True).close()
    with connected(target) as connection:
        migrations.downgrade(connection, "0001")
    with connected(target) as connection:
        for statement in OF_0001:
            connection.exec_driver_sql(statement)
    with connected(target) as connection:
        migrations.upgrade(connection)
        rows = connection.exec_driver_sql("SELECT id, stock_taking FROM stack_measure ORDER BY id").all()
        assert [(number, bool(taken)) for number, taken in rows] == [
            (1, False),
            (2, True),
            (3, False),
            (4, True),
        ]
        assert migrations.differences(connection) == []
        assert triggers.missing(connection) == []
    with connected(target) as connection:
        migrations.downgrade(connection, "0001")
        assert connection.exec_driver_sql("SELECT sum(mass_g) FROM stack_measure").scalar() == 10
        assert "photo" not in inspect(connection).get_table_names()


# A yard with two stacks, each measured twice, in the tables of 0001.
OF_0001 = (
    "INSERT INTO yard (id, name, address, phone, country, subdivision, climate_place, timezone, currency, locale, "
    "units, target_mc_wet, tax_rate, seed, is_demo, created_at) VALUES (1, 'Yard', '', '', 'CA', 'NB', 'x', 'UTC', "
    "'CAD', 'en_CA', 'metric', 0.2, 0, 0, FALSE, '2026-01-01 00:00:00')",
    *(f"INSERT INTO spot (id, yard_id, kind) VALUES ({number}, 1, 'stack')" for number in (1, 2)),
    *(
        "INSERT INTO stack (id, yard_id, spot_id, name, kind, form, piece_length_m, thickness_m, bark, cover, "
        "exposure, stacked_on, target_mc_wet, row_label, note) VALUES "
        f"({number}, 1, {number}, 'A{number}', 'stack', 'split', 0.4, 0.1, TRUE, 'top', 'normal', '2026-01-01', 0.2, "
        "'', '')"
        for number in (1, 2)
    ),
    *(
        "INSERT INTO stack_measure (id, yard_id, stack_id, happened_at, piled, length_m, heights_m, rows, outside_m3, "
        f"mass_g) VALUES ({number}, 1, {stack}, '2026-0{number}-01 12:00:00', 'ranked', 2, '[1]', 1, 1, {number})"
        for number, stack in ((1, 1), (2, 1), (3, 2), (4, 2))
    ),
)


def test_revisions_are_those_in_the_folder() -> None:
    """`Book.open` judges a book by this list without asking Alembic, which is slow to import."""
    script = migrations.script_directory()

    in_folder = [revision.revision for revision in script.walk_revisions()]

    assert tuple(reversed(in_folder)) == migrations.REVISIONS
    assert script.get_current_head() == migrations.HEAD


@pytest.mark.parametrize("table", triggers.APPEND_ONLY)
@pytest.mark.parametrize("statement", ["UPDATE {table} SET yard_id = yard_id", "DELETE FROM {table}"])
def test_the_journal_is_append_only(yard, statement: str, table: str) -> None:
    with yard.book.write() as session:
        post(
            session,
            yard.yard_id,
            kind="take_in",
            happened_at=yard.start,
            recorded_at=yard.start,
            moves=yard.came_in(1000),
        )

    with (
        pytest.raises(sa.exc.IntegrityError, match="append-only"),
        yard.book.write() as session,
    ):
        session.execute(sa.text(statement.format(table=table)))


@pytest.mark.postgres
@pytest.mark.parametrize("table", triggers.APPEND_ONLY)
def test_the_journal_cannot_be_emptied_at_once(server_book: str, table: str) -> None:
    """TRUNCATE fires no row triggers on PostgreSQL."""
    with (
        Book.open(server_book) as book,
        pytest.raises(sa.exc.IntegrityError, match="append-only"),
        book.write() as session,
    ):
        session.execute(sa.text(f"TRUNCATE {table} CASCADE"))


@pytest.mark.parametrize(
    "bad",
    [
        Move(1, "acer_saccharum", "sawdust", 1, 5),
        Move(1, "acer_saccharum", "split", 1, 5, sd_share=-0.1),
        Move(1, "acer_saccharum", "split", 1, 5, basic_density_kg_m3=0.0),
    ],
    ids=["unknown form", "negative spread", "no density"],
)
def test_checks_refuse_nonsense(yard, bad: Move) -> None:
    moves = [bad, Move(yard.outside, bad.species_id, "split", 1, -5)]

    with pytest.raises(sa.exc.IntegrityError), yard.book.write() as session:
        post(
            session,
            yard.yard_id,
            kind="take_in",
            happened_at=yard.start,
            recorded_at=yard.start,
            moves=moves,
        )


def test_a_rebuilt_table_keeps_its_checks_on_sqlite(tmp_path) -> None:
    """SQLite cannot alter a column: Alembic rebuilds the table, and its CHECKs must come along."""
    from alembic.migration import MigrationContext
    from alembic.operations import Operations

    target = str(tmp_path / "book.sqlite")
    Book.open(target, create=True).close()

    with connected(target) as connection:
        operations = Operations(MigrationContext.configure(connection))
        before = {c["name"] for c in inspect(connection).get_check_constraints("posting")}
        with operations.batch_alter_table("posting") as table:
            table.alter_column("unit", type_=sa.String(30), existing_type=sa.String(20))
        after = {c["name"] for c in inspect(connection).get_check_constraints("posting")}
        lost = triggers.missing(connection)
        triggers.protect(connection, ("posting",))
        again = triggers.missing(connection)

    assert before == after != set()
    # The rebuilt table has lost its triggers; a migration makes them again.
    assert lost == ["posting_no_update", "posting_no_delete", "posting_not_after_seal"]
    assert again == []


def test_clashes_of_loads_go_on_the_way_back_and_others_stay(new_target: Callable[[], str]) -> None:
    target = new_target()
    Book.open(target, create=True).close()
    with connected(target) as connection:
        connection.exec_driver_sql(OF_0001[0])
        connection.exec_driver_sql(
            "INSERT INTO deed (id, yard_id, client_key, kind, body_hash, answer, happened_at, recorded_at, told_at) "
            "VALUES (1, 1, 'k', 'x', 'h', '{}', '2026-01-01 00:00:00', '2026-01-01 00:00:00', '2026-01-01 00:00:00')"
        )
        for number, kind in enumerate(("load", "stack"), start=1):
            connection.exec_driver_sql(
                "INSERT INTO clash (id, yard_id, deed_id, subject_kind, subject_id, code, msgid, sentence_values, "
                f"raised_at, note) VALUES ({number}, 1, 1, '{kind}', 1, 'c', 'm', '{{}}', '2026-01-01 00:00:00', '')"
            )
        migrations.downgrade(connection, "0014")
        assert connection.exec_driver_sql("SELECT subject_kind FROM clash").scalars().all() == ["stack"]
        migrations.upgrade(connection)
        assert migrations.differences(connection) == []
        assert connection.exec_driver_sql("SELECT id, told_at FROM deed").all() == [(1, None)]


def test_rates_of_0013_stay_and_are_rounded_on_the_way_back(new_target: Callable[[], str]) -> None:
    target = new_target()
    Book.open(target, create=True).close()
    read = "SELECT fuel_minor_l, wage_minor_h FROM yard_costs"
    with connected(target) as connection:
        migrations.downgrade(connection, "0013")
        connection.exec_driver_sql(OF_0001[0])
        connection.exec_driver_sql(
            "INSERT INTO deed (id, yard_id, client_key, kind, body_hash, answer, happened_at, recorded_at) VALUES "
            "(1, 1, 'k', 'set_costs', 'h', '{}', '2026-01-01 00:00:00', '2026-01-01 00:00:00')"
        )
        connection.exec_driver_sql(
            "INSERT INTO yard_costs (yard_id, deed_id, wage_minor_h, fuel_minor_l, interest_year, method, "
            "delivered_share, kerf_m, hours, margin_kind, margin) "
            "VALUES (1, 1, 2500, 111, 0, 'processor', 1, 0.008, '{}', 'share', 0.1)"
        )
        migrations.upgrade(connection)
        assert connection.exec_driver_sql(read).one() == (111.0, 2500)
        connection.exec_driver_sql("UPDATE yard_costs SET fuel_minor_l = 110.688")
        assert connection.exec_driver_sql(read).one() == (110.688, 2500)
        migrations.downgrade(connection, "0013")
        assert connection.exec_driver_sql(read).one() == (111, 2500)
        connection.exec_driver_sql("DELETE FROM yard_costs")
