"""Pests that travel with firewood: the table's shape, and hosts as the regulations name them."""

from __future__ import annotations

import re

from rickyard.identify import the_key
from rickyard.rules import all_pests, pests_of


def test_the_table_is_whole() -> None:
    names = [pest.id for pest in all_pests()]
    assert len(names) == len(set(names)) == 16
    for pest in all_pests():
        assert pest.genera or pest.species
        assert pest.signs_basis in ("read", "memory")
        assert pest.basis in ("read", "second-hand", "memory")
        assert all(text.endswith(".") for text in (pest.signs, pest.says, pest.handling)), pest.id
        assert not re.search(r"forum|blog|arborist", pest.source, re.IGNORECASE), pest.id


def test_hosts_of_the_asian_longhorned_beetle_are_those_of_the_regulation() -> None:
    """7 CFR 301.51-2 (a) names these genera; pine and oak are not among them."""
    hosts = {
        tree.genus for tree in the_key().species if "ALB" in {p.id for p in pests_of(tree.genus, tree.id)}
    }

    assert {"Acer", "Aesculus", "Betula", "Fraxinus", "Platanus", "Populus", "Salix", "Ulmus"} <= hosts
    assert hosts.isdisjoint({"Quercus", "Pinus", "Carya", "Fagus"})


def test_what_concerns_one_genus_comes_first() -> None:
    assert [pest.id for pest in pests_of("Fraxinus", "fraxinus_americana")] == ["EAB", "ALB"]
    assert pests_of("Carya", "carya_ovata") == ()


def test_elm_is_barred_in_three_provinces() -> None:
    (disease,) = [pest for pest in pests_of("Ulmus", "ulmus_americana") if pest.id == "DED"]

    assert all(place in disease.says for place in ("Alberta", "Saskatchewan", "Manitoba"))
