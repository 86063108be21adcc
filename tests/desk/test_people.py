"""Names of people: one for each, whatever the letters' size."""

from __future__ import annotations

import pytest

from rickyard.desk.context import Desk, new_key
from rickyard.desk.people import AddPerson, RenamePerson, add_person, people, person, rename_person
from rickyard.errors import InputError


def add(desk: Desk, name: str) -> int:
    return int(add_person(desk, AddPerson(key=new_key(), name=name))["person_id"])


def test_people_are_listed_by_name_and_found_by_id(desk: Desk) -> None:
    """The owner of this yard left the name open, and nobody is shown for that."""
    later, first = add(desk, "osric"), add(desk, "  Brigid   Moss ")

    assert [(item.id, item.name) for item in people(desk)] == [(first, "Brigid Moss"), (later, "osric")]
    found = person(desk, later)
    assert found is not None
    assert found.name == "osric"
    assert person(desk, 999) is None


@pytest.mark.parametrize("name", ["Osric", "OSRIC", " osric "])
def test_a_name_is_taken_once(desk: Desk, name: str) -> None:
    add(desk, "Osric")

    with pytest.raises(InputError) as caught:
        add(desk, name)

    assert (caught.value.field, caught.value.code) == ("person", "name_taken")
    assert len(people(desk)) == 1


@pytest.mark.parametrize("name", ["", "   ", "x" * 41])
def test_a_name_is_a_few_letters(desk: Desk, name: str) -> None:
    with pytest.raises(InputError):
        add(desk, name)


def test_renaming(desk: Desk) -> None:
    one, other = add(desk, "Osric"), add(desk, "Maeve")
    # Only the size of a letter changes: that is nobody else's name.
    rename_person(desk, RenamePerson(key=new_key(), who_id=one, name="OSRIC"))
    with pytest.raises(InputError):
        rename_person(desk, RenamePerson(key=new_key(), who_id=other, name="osric"))
    with pytest.raises(InputError) as caught:
        rename_person(desk, RenamePerson(key=new_key(), who_id=999, name="Nerea"))

    assert caught.value.code == "unknown_person"
    assert [item.name for item in people(desk)] == ["Maeve", "OSRIC"]
