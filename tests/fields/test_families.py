"""The family of each genus: every genus on the list of species, and names that botany knows."""

from xlhelpers.fields.families import families
from xlhelpers.fields.species import species_list


def test_every_genus_on_the_list_has_a_family_and_no_other() -> None:
    genera = {one.botanical.split()[0] for one in species_list()}
    assert set(families()) == genera


def test_families_are_written_as_botany_writes_them() -> None:
    # families of plants end in -aceae (International Code of Nomenclature, article 18.1; from
    # memory)
    assert all(name.endswith("aceae") and name.istitle() for name in families().values())


def test_families_that_changed_with_the_study_of_descent() -> None:
    # APG IV (2016), from memory: maples and horse chestnuts are one family, limes are mallows,
    # hackberries left the elms, sweetgums the witch hazels
    found = {genus: families()[genus] for genus in ("Acer", "Aesculus", "Tilia", "Celtis")}
    assert found == {
        "Acer": "Sapindaceae", "Aesculus": "Sapindaceae", "Tilia": "Malvaceae",
        "Celtis": "Cannabaceae",
    }  # fmt: skip
    assert families()["Liquidambar"] == "Altingiaceae"


def test_conifers_and_palms_have_families_of_their_own() -> None:
    kinds = {one.botanical.split()[0]: one.kind for one in species_list()}
    palms = {families()[genus] for genus, kind in kinds.items() if kind == "palm"}
    broadleaves = {families()[genus] for genus, kind in kinds.items() if kind == "broadleaf"}
    conifers = {families()[genus] for genus, kind in kinds.items() if kind == "conifer"}
    assert palms == {"Arecaceae"}
    assert not conifers & (broadleaves | palms)
