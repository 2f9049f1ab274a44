"""The list of species: long enough, free of doubles, and only in words that a sheet may hold."""

from xlhelpers.fields.choices import choice
from xlhelpers.fields.species import other_names, species_list


def test_the_list_names_at_least_150_species_without_doubles() -> None:
    listed = species_list()
    botanical = [entry.botanical.casefold() for entry in listed]
    common = [entry.common.casefold() for entry in listed]
    assert len(listed) >= 150
    assert len(set(botanical)) == len(botanical)
    assert len(set(common)) == len(common)
    assert not set(botanical) & set(common)
    assert botanical == sorted(botanical)


def test_kinds_and_outlines_are_words_of_the_choices() -> None:
    for entry in species_list():
        assert entry.kind in choice("species kind")
        if entry.kind == "palm":
            assert entry.outline == ""
        else:
            assert entry.outline in choice("outline")


def test_every_kind_and_every_outline_is_there() -> None:
    assert {entry.kind for entry in species_list()} == set(choice("species kind"))
    # a half-ellipsoid, a cone and the others: each default is used by some species
    assert {entry.outline for entry in species_list()} == {"", *choice("outline")}


def test_names_are_tidy() -> None:
    for entry in species_list():
        for text in (entry.botanical, entry.common):
            assert text == " ".join(text.split())
            assert text[0].isupper()
        assert len(entry.botanical.split()) >= 2


def test_kinds_agree_with_botany() -> None:
    # families of gymnosperms and of palms, common knowledge of botany, from memory
    conifers = {
        *(
            "Afrocarpus",
            "Agathis",
            "Araucaria",
            "Calocedrus",
            "Cedrus",
            "Dacrydium",
            "Chamaecyparis",
            "Cryptomeria",
            "Cupressus",
        ),
        *("Juniperus", "Larix", "Metasequoia", "Picea", "Pinus", "Podocarpus", "Pseudotsuga"),
        *("Sequoia", "Sequoiadendron", "Taxodium", "Taxus", "Thuja", "Tsuga"),
    }
    palms = {
        *(
            "Archontophoenix",
            "Brahea",
            "Butia",
            "Cocos",
            "Howea",
            "Rhopalostylis",
            "Livistona",
            "Phoenix",
            "Roystonea",
            "Sabal",
            "Syagrus",
        ),
        *("Trachycarpus", "Veitchia", "Washingtonia"),
    }
    for entry in species_list():
        genus = entry.botanical.split()[0]
        expected = "conifer" if genus in conifers else "palm" if genus in palms else "broadleaf"
        assert entry.kind == expected, entry.botanical


def test_every_other_name_belongs_to_a_listed_species_and_is_no_listed_name() -> None:
    botanical = {entry.botanical for entry in species_list()}
    common = {entry.common.casefold() for entry in species_list()}
    for each in other_names():
        assert each.kind_of_name in ("botanical", "common")
        assert each.botanical in botanical, each
        assert each.other_name not in botanical, each
        assert each.other_name.casefold() not in common, each
    assert len(set(other_names())) == len(other_names())
    synonyms = [each.other_name for each in other_names() if each.kind_of_name == "botanical"]
    assert len(set(synonyms)) == len(synonyms)


def test_towns_of_the_southern_hemisphere_and_hybrids_find_their_trees() -> None:
    genera = {entry.botanical.split()[0] for entry in species_list()}
    assert genera >= {"Eucalyptus", "Corymbia", "Lophostemon", "Jacaranda", "Handroanthus"}
    assert sum(entry.botanical.startswith("Eucalyptus") for entry in species_list()) >= 15
    assert sum(" x " in entry.botanical for entry in species_list()) >= 15
