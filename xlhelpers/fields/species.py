"""The species sheet."""

from xlhelpers.fields.record import Field, Sheet

SPECIES = Sheet(
    "species",
    "Species",
    "Species",
    "Names to choose from. Add your own at the end; a town may give codes of its own.",
    (
        Field(
            "botanical",
            "Botanical name",
            "text",
            "Genus and species.",
            required="always",
            filled_by="office",
            width=32,
            synonyms=("scientific name",),
        ),
        Field(
            "common", "Common name", "text", "As the crews say it.", filled_by="office", width=28
        ),
        Field(
            "code",
            "Own code",
            "identifier",
            "A code of your town's, if it uses any.",
            filled_by="office",
            width=10,
        ),
        Field(
            "kind",
            "Kind",
            "choice",
            "broadleaf, conifer or palm.",
            choices="species kind",
            required="always",
            filled_by="office",
            width=11,
        ),
        Field(
            "outline",
            "Crown outline",
            "choice",
            "The solid nearest to its crown.",
            choices="outline",
            filled_by="office",
            width=15,
        ),
    ),
    row_word="species",
    prepared_rows=60,
)
