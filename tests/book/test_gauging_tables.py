"""Logs of before keep what they hold, up and down; marks outlive their photo."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest
import sqlalchemy as sa
from sqlalchemy import Connection, inspect

from rickyard.book import Book, migrations
from rickyard.book.engine import book_url, make_engine
from rickyard.book.migrations import triggers


@contextmanager
def connected(target: str) -> Iterator[Connection]:
    engine = make_engine(book_url(target), writing=True, foreign_keys=False)
    try:
        with engine.begin() as connection:
            yield connection
    finally:
        engine.dispose()


OF_0006 = (
    "INSERT INTO yard (id, name, address, phone, country, subdivision, climate_place, timezone, currency, locale, "
    "units, target_mc_wet, tax_rate, seed, is_demo, created_at) VALUES (1, 'Yard', '', '', 'CA', 'NB', 'x', 'UTC', "
    "'CAD', 'en_CA', 'metric', 0.2, 0, 0, FALSE, '2026-01-01 00:00:00')",
    "INSERT INTO spot (id, yard_id, kind) VALUES (1, 1, 'load')",
    "INSERT INTO lot (id, yard_id, country, subdivision, county, certificate) VALUES (1, 1, 'CA', 'NB', '', '')",
    "INSERT INTO load (id, yard_id, number, spot_id, lot_id, source, arrived_on, detail, typed, mass_sd_share, note) "
    "VALUES (1, 1, 1, 1, 1, 'x', '2026-01-02', 'logs', '', 0.05, '')",
    "INSERT INTO log_piece (id, yard_id, load_id, number, species_id, length_m, mid_d_m, bark_thickness_m, formula, "
    "volume_m3) VALUES (1, 1, 1, 1, 'acer_saccharum', 4, 0.3, 0, 'huber', 0.28)",
)
HOLLOW = (
    "INSERT INTO log_piece (id, yard_id, load_id, number, species_id, length_m, mid_d_m, bark_thickness_m, formula, "
    "volume_m3, gross_m3, sweep_m, defects, bark_by_species) VALUES (2, 1, 1, 2, 'acer_saccharum', 4, 0.3, 0, "
    "'huber', {net}, 0.28, 0, '[]', FALSE)"
)


def test_logs_of_0006_are_gross_what_they_hold(new_target: Callable[[], str]) -> None:
    target = new_target()
    Book.open(target, create=True).close()
    with connected(target) as connection:
        migrations.downgrade(connection, "0006")
        for statement in OF_0006:
            connection.exec_driver_sql(statement)
    with connected(target) as connection:
        migrations.upgrade(connection)
        row = connection.exec_driver_sql(
            "SELECT volume_m3, gross_m3, sweep_m, bark_by_species FROM log_piece"
        ).one()
        assert (row[0], row[1], row[2], bool(row[3])) == (0.28, 0.28, 0.0, False)
        connection.exec_driver_sql(HOLLOW.format(net=0.0))
        assert migrations.differences(connection) == []
        assert triggers.missing(connection) == []
    with pytest.raises(sa.exc.IntegrityError), connected(target) as connection:
        connection.exec_driver_sql(HOLLOW.replace("(2, 1, 1, 2", "(3, 1, 1, 3").format(net=0.29))
    with connected(target) as connection:
        migrations.downgrade(connection, "0006")
        rows = connection.exec_driver_sql("SELECT volume_m3 FROM log_piece ORDER BY id").scalars().all()
        assert rows == [0.28, pytest.approx(1e-9)]
        assert "photo_gauging" not in inspect(connection).get_table_names()
