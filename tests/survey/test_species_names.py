"""Keyed names of species against the species sheet."""

import pandas as pd
import pytest

from tests.survey.make_survey import make_survey
from xlhelpers.fields.species import species_list
from xlhelpers.survey.typed.species_names import (
    genus_of,
    match_species,
    nearest_names,
    species_codes,
)

SHEET = [
    {"botanical": "Quercus robur", "common": "English oak"},
    {"botanical": "Acer platanoides", "common": "Norway maple", "code": "NM"},
    {"botanical": "Platanus × hispanica", "common": "London plane"},
    {"botanical": "Acer platanoides 'Crimson King'", "common": "Purple Norway maple"},
    {"botanical": "Sorbus aucuparia", "common": "Mountain ash"},
    {"botanical": "Eucalyptus regnans", "common": "Mountain ash", "code": "MA"},
    {"botanical": "Populus sp.", "common": "Poplar"},
]


@pytest.fixture(scope="module")
def species():
    return make_survey(species=SHEET).species


@pytest.mark.parametrize(
    ("typed", "row"),
    [
        ("Quercus robur", 0),
        ("  QUERCUS  robur ", 0),
        ("english\u00a0oak", 0),
        ("Quercus robur 'Fastigiata'", 0),
        ("Quercus robur ‘Fastigiata’", 0),
        ("Quercus robur cv. Fastigiata", 0),
        ("nm", 1),
        ("Maple, Norway", 1),
        ("Norway-maple", 1),
        ("Acer platanoides", 1),
        ("Acer platanoides 'Crimson King'", 3),
        ("Platanus x hispanica", 2),
        ("Platanus ×hispanica", 2),
        ("Platanus hispanica", 2),
        ("Populus spp.", 6),
        ("populus sp", 6),
        ("MA", 5),
        # synonyms of one hybrid and another common name, botany from memory
        ("Platanus x acerifolia", 2),
        ("Platanus hybrida 'Bloodgood'", 2),
        ("Common oak", 0),
    ],
)
def test_names_that_mean_a_row(species, typed, row):
    assert match_species([typed], species).tolist() == [row]


@pytest.mark.parametrize("typed", ["", "oak", "Quercus", "Quercus robor", "Acer", "x"])
def test_names_that_mean_no_row(species, typed):
    assert match_species([typed], species).tolist() == [-1]


def test_a_common_name_of_two_species_means_neither(species):
    assert match_species(["Mountain ash"], species).tolist() == [-1]
    assert nearest_names("Mountain ash", species) == ("Sorbus aucuparia", "Eucalyptus regnans")


@pytest.mark.parametrize(
    ("typed", "names"),
    [
        ("ash", {"White ash", "Green ash", "European ash", "Manna ash", "Black ash"}),
        ("Fraxinus", {"Fraxinus americana", "Fraxinus ornus"}),
        ("Eucalyptus", {"Eucalyptus globulus", "Eucalyptus saligna"}),
        ("lime", {"Tilia cordata", "Tilia x europaea"}),
        ("Plane tree", {"Platanus x acerifolia", "Oriental plane"}),
    ],
)
def test_a_name_that_is_too_short_offers_every_species_that_holds_it(typed, names):
    offered = pd.DataFrame([vars(entry) | {"code": ""} for entry in species_list()])
    assert match_species([typed], offered).tolist() == [-1]
    assert set(nearest_names(typed, offered)) >= names


@pytest.mark.parametrize(
    ("synonym", "row"),
    [
        ("Platanus × hispanica", "Platanus x acerifolia"),
        ("Sophora japonica", "Styphnolobium japonicum"),
        ("Eucalyptus citriodora", "Corymbia citriodora"),
        ("Tristania conferta", "Lophostemon confertus"),
        ("Tilia × vulgaris 'Pallida'", "Tilia x europaea"),
    ],
)
def test_botanical_synonyms_mean_one_species(synonym, row):
    # synonymy as in general use in botany, from memory
    offered = pd.DataFrame([vars(entry) | {"code": ""} for entry in species_list()])
    (found,) = match_species([synonym], offered)
    assert offered["botanical"].iloc[found] == row
    assert species_codes([synonym, row], offered).tolist() == [0, 0]


def test_names_of_one_species_have_one_code(species):
    typed = ["NM", "Acer platanoides", "Wonder tree", "wonder  TREE", "", "English oak"]
    codes = species_codes(typed, species).tolist()
    assert codes[0] == codes[1]
    assert codes[2] == codes[3]
    assert codes[4] == -1
    assert len({codes[0], codes[2], codes[5]}) == 3


def test_genus(species):
    typed = ["London plane", "Quercus nova", "Wonder tree", ""]
    assert genus_of(typed, species).tolist() == ["Platanus", "Quercus", "", ""]


@pytest.mark.parametrize(
    ("typed", "first"),
    [("Quercus robor", "Quercus robur"), ("Norwegian maple", "Norway maple"), ("xyzzy", None)],
)
def test_nearest_names_are_proposed(species, typed, first):
    proposed = nearest_names(typed, species)
    assert (proposed[0] if proposed else None) == first
    assert len(proposed) <= 3


def test_no_species_sheet_and_no_lines():
    empty = make_survey(species=()).species
    assert match_species(["Quercus robur"], empty).tolist() == [-1]
    assert genus_of(["Quercus robur"], empty).tolist() == [""]
    assert match_species([], empty).tolist() == []
