"""Service life and cautions: the tables' shape, what trials found, and that hearsay is not given out."""

from __future__ import annotations

from rickyard.identify import the_key
from rickyard.wood import all_groups, all_species, find_species, get_species, service_life, wood_cautions
from rickyard.wood.lasting import read_table

BASES = {"read", "second-hand", "abstract read", "memory", "practitioner"}


def test_the_tables_are_whole() -> None:
    woods = {wood.id for wood in (*all_species(), *all_groups())}
    for table in ("service_life", "cautions"):
        for row in read_table(table):
            assert row["wood"] in woods
            assert row["basis"] in BASES
            assert row["says"]
            assert row["source"]


def test_posts_of_the_oregon_post_farm() -> None:
    """Miller 1986: no Osage-orange post failed in 52 years; black locust averages more than 30."""
    (osage,) = service_life(get_species("maclura_pomifera"), "Maclura")
    (locust,) = service_life(get_species("robinia_pseudoacacia"), "Robinia")
    (juniper,) = service_life(get_species("western_and_utah_juniper"), "Juniperus")

    assert "52 years" in osage.says
    assert "30 years" in locust.says
    assert (juniper.of, juniper.says) == ("juniperus_occidentalis", locust.says)
    assert "Oregon State University" in locust.source


def test_what_practitioners_say_is_not_given_out() -> None:
    assert any(row["basis"] == "practitioner" for row in read_table("service_life"))
    for wood in all_species():
        genus = wood.scientific.split()[0]
        told = (*service_life(wood, genus), *wood_cautions(wood, genus))
        assert not any(row.basis == "practitioner" for row in told)


def test_a_caution_of_the_genus_holds_for_a_tree_without_a_row() -> None:
    """Chokecherry has no row in the wood table; wilted leaves of any Prunus give off cyanide."""
    (tree,) = [tree for tree in the_key().species if tree.key_id == "prvi"]

    assert [row.kind for row in wood_cautions(tree.wood, tree.genus)] == ["livestock"]


def test_every_tree_of_the_key_is_linked_to_its_wood() -> None:
    """Each short id works as a name; where the wood table has the species, it carries the short id."""
    for tree in the_key().species:
        wood = find_species(tree.key_id)
        assert wood.id == tree.wood.id, tree.key_id
        if wood.rank == "species":
            assert wood.key_id == tree.key_id
            assert find_species(tree.scientific).id == wood.id
