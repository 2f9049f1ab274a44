"""Six made-up sheets in the manner of real ones, in four languages, made anew for the tests.

Towns, streets and trees are invented. `EXPECTED` has the heights of some trees, worked out by hand
from the numbers in the sheets: distance times the difference of the readings, or the height as it
stands; in metres.
"""

import csv
import io
import zipfile
from collections.abc import Sequence
from pathlib import Path
from xml.sax.saxutils import escape

from xlsxwriter import Workbook
from xlsxwriter.utility import xl_cell_to_rowcol

Cells = Sequence[Sequence[object]]
FT = 0.3048

STREET: Cells = (
    ("Millbrook Hollow, street trees", None, None, None, None, None, None, None, None, None),
    ("Walked in spring", None, None, None, None, None, None, None, None, None),
    (None,) * 10,
    (None, None, None, None, "Girth", None, "Height", "Spread", "Condition", "Notes"),
    ("Street", "House no.", "Tree #", "Species", "ft", "in", None, None, None, None),
    ("Elm Road", 3, 1, "Acer platanoides", 4, 6, 45, 30, "Good", None),
    ("Elm Road", 7, 2, "Quercus rubra", 6, 2, 62, "40x35", "Good", "wires above"),
    ("Elm Road", 9, 3, "Tilia cordata", 3, 11, "est. 40", 28, "Fair", None),
    ("Elm Road", "12a", 4, "Acer platanoides", 5, None, "~50", 33, "Good", None),
    ("Mill Lane", 1, 1, "Fraxinus pennsylvanica", 4, 3, 48, None, "snag", "remove?"),
    ("Mill Lane", 2, 2, "Gleditsia triacanthos", 3, 1, 38, 31, "Good", None),
    ("Mill Lane", 5, 3, "Quercus rubra", 7, 8, 71, 52, "Poor", "cavity"),
    ("Total", None, 7, None, None, None, None, None, None, None),
    ("* heights with a laser that shows them", *(None,) * 9),
)
PLOTS_AGAIN: Cells = (
    ("Inventario de parcelas permanentes", None, None, None, None, None, None, None, None, None),
    (
        "Parcela", "Año", "Nº árbol", "Especie", "DAP (cm)", "Distancia (m)", "Lectura al pie (%)",
        "Lectura base de copa (%)", "Lectura al ápice (%)", "Observaciones",
    ),
    (4, 2019, 1, "Quercus ilex", 31, 16, -9, 22, 58, None),
    (None, 2019, 2, "Pinus halepensis", 24.5, 18, -7, 30, 61, "dos nidos"),
    (None, 2019, 3, "Quercus ilex", "muerto", 15, -10, None, 40, None),
    (4, 2024, 1, "Quercus ilex", 33, 16, -9, 24, 62, None),
    (None, 2024, 2, "Pinus halepensis", 26, 18, -8, 29, 65, None),
    (9, 2024, 1, "Quercus suber", 40, 20, -5, 15, 50, None),
    (None, 2024, 2, "Quercus suber", 37, 20, -6, 12, 47, "corcho"),
    ("Media", None, None, None, 33, None, None, None, None, None),
)  # fmt: skip
TWO_LASERS: Cells = (
    (
        "Plot", "Tree", "Species", "DBH cm", "Height laser A (m)", "Height laser B (m)",
        "Crown base height (m)", "Crown spread N (m)", "Crown spread E (m)", "Crown spread S (m)",
        "Crown spread W (m)", "Date", "Surveyor",
    ),
    (1, 1, "Platanus x acerifolia", 61, 21.4, 21.9, 4.5, 5, 6, 4, 5.5, "2024-06-03", "KT"),
    (1, 2, "Tilia cordata", 38, 15.2, None, 3.1, 3, 3.5, 3, 4, "2024-06-03", "KT"),
    (1, 3, "Betula pendula", 22, 12.8, 13.1, 2.6, 2, 2, 2.5, 2, "2024-06-03", "KT"),
    (2, 1, "Acer pseudoplatanus", 45, 17.7, 17.5, 3.8, 4, 4.5, 4, 4, "2024-06-04", "KT"),
    (2, 2, "Fraxinus excelsior", 52, 19.6, 20.0, "no access", 5, 5, 5, 5, "2024-06-04", "RM"),
)  # fmt: skip
MARKS: Cells = (
    (
        "Placette", "N° arbre", "Essence", "État", "DHP (cm)", "Distance horizontale (m)",
        "Visée pied (%)", "Visée sommet (%)", "Hauteur repère (m)", "Hauteur (m)", "Remarques",
    ),
    ("12", "1", "Fagus sylvatica", "vivant", "41,5", "18,0", "-8", "92", "", "18,0", ""),
    ("12", "2", "Fagus sylvatica", "vivant", "36", "17,5", "2", "84", "1,4", "15,75", "pied caché"),
    ("12", "3", "Carpinus betulus", "mort", "19,5", "12,0", "-11", "51", "", "7,4", ""),
    ("13", "1", "Quercus petraea", "vivant", "52", "21,0", "-6", "88", "", "19,7", ""),
    ("13", "2", "Quercus petraea", "vivant", "47", "20,0", "-3", "79", "1,3", "17,7", ""),
    ("13", "3", "Fagus sylvatica", "vivant", "30", "", "", "", "", "14,5", "hauteur estimée"),
    ("13", "4", "Fagus sylvatica", "vivant", "28,5", "15,0", "-9", "77", "", "12,9", ""),
    ("", "", "", "", "", "", "", "", "", "", ""),
    ("Moyenne", "", "", "", "36,4", "", "", "", "", "", ""),
)  # fmt: skip
HEIGHTS_ONLY: Cells = (
    ("Baumkataster Unterwiesen", None, None, None, None, None, None, None),
    (None, None, None, None, None, None, None, None),
    ("Baum", None, "Stamm", None, "Höhen", None, "Krone", None),
    ("Nr.", "Baumart", "BHD", "Zustand", "Gesamthöhe", "Kronenansatz", "Breite", "Bemerkung"),
    (None, None, "cm", None, "m", "m", "m", None),
    (1, "Tilia cordata", 44, "vital", 17.5, 3.2, 9, None),
    (2, "Acer platanoides", "30+22", "vital", "ca. 14", 2.5, "8x7", "Zwiesel"),
    (3, "Betula pendula", 21, "tot", 12, None, None, None),
    (4, "Quercus robur", "2 Stämme: 38, 31", "vital", "~20", 4, 11, None),
    (5, "Fraxinus excelsior", 35, "Wipfeldürre", "geschätzt 18", 3.5, "?", None),
)
BY_TABS: dict[str, Cells] = {
    "Plot 3": (
        ("Observer", "DS", None, "Date", "2024-06-03", None),
        ("Tree", "Species", "Diam.", "Dist.", "A", "B"),
        (1, "Quercus alba", 15, 60, -8, 74),
        (2, "Acer rubrum", 11, 50, -9, 88),
        (3, "Quercus alba", 18, 70, -6, 81),
    ),
    "Plot 5": (
        ("Tree", "Species", "Diam.", "Dist.", "A", "B"),
        (1, "Fagus grandifolia", 21, 80, -10, 92),
        (2, "Acer rubrum", 9, 55, -7, 63),
        (3, "Acer rubrum", 13, 60, -11, 90),
    ),
    "Legend": (("A and B", "as read on the dial"),),
}  # fmt: skip
# sheet -> (plot, tree, set-up): total height in m, worked out by hand
EXPECTED: dict[str, dict[tuple[str, str, int], float]] = {
    "street": {
        ("Elm Road", "1", 1): 45 * FT,
        ("Elm Road", "2", 1): 62 * FT,
        ("Elm Road", "3", 1): 40 * FT,
        ("Elm Road", "4", 1): 50 * FT,
        ("Mill Lane", "1", 1): 48 * FT,
        ("Mill Lane", "3", 1): 71 * FT,
    },
    "plots_again": {
        ("4 2019", "1", 1): 16 * (58 + 9) / 100,
        ("4 2019", "2", 1): 18 * (61 + 7) / 100,
        ("4 2019", "3", 1): 15 * (40 + 10) / 100,
        ("4 2024", "1", 1): 16 * (62 + 9) / 100,
        ("9 2024", "2", 1): 20 * (47 + 6) / 100,
    },
    "two_lasers": {
        ("1", "1", 1): 21.4,
        ("1", "1", 2): 21.9,
        ("1", "2", 1): 15.2,
        ("1", "3", 2): 13.1,
        ("2", "2", 1): 19.6,
    },
    "marks": {
        ("12", "1", 1): 18 * (92 + 8) / 100,
        ("12", "2", 1): 17.5 * (84 - 2) / 100 + 1.4,
        ("12", "3", 1): 12 * (51 + 11) / 100,
        ("13", "2", 1): 20 * (79 + 3) / 100 + 1.3,
        ("13", "3", 1): 14.5,
        ("13", "4", 1): 15 * (77 + 9) / 100,
    },
    "heights_only": {
        ("1", "1", 1): 17.5,
        ("1", "2", 1): 14.0,
        ("1", "4", 1): 20.0,
        ("1", "5", 1): 18.0,
    },
    "by_tabs": {
        ("3", "1", 1): 60 * (74 + 8) / 100 * FT,
        ("3", "3", 1): 70 * (81 + 6) / 100 * FT,
        ("5", "1", 1): 80 * (92 + 10) / 100 * FT,
        ("5", "3", 1): 60 * (90 + 11) / 100 * FT,
    },
}
# what has to be answered, and nothing else
ANSWERS: dict[str, tuple[str, ...]] = {
    "street": (),
    "plots_again": ("--distance-kind", "level"),
    "two_lasers": (),
    "marks": (),
    "heights_only": (),
    "by_tabs": ("--scale", "percent", "--distance-kind", "level"),
}
MAKERS = {
    "street": lambda folder: write_street(folder / "street.xlsx"),
    "plots_again": lambda folder: write_plots_again(folder / "parcelas.xlsx"),
    "two_lasers": lambda folder: write_ods(folder / "lasers.ods", {"Survey": TWO_LASERS}),
    "marks": lambda folder: write_csv(folder / "releve.csv", MARKS, ";", "cp1252"),
    "heights_only": lambda folder: write_heights_only(folder / "kataster.xlsx"),
    "by_tabs": lambda folder: write_book(folder / "tabs.xlsx", BY_TABS),
}


def write_book(path: Path, tabs: dict[str, Cells], merges: Sequence[str] = ()) -> Path:
    """Write tabs into a workbook; the areas are merged on each."""
    with Workbook(path) as book:
        for name, rows in tabs.items():
            sheet = book.add_worksheet(name)
            for row, cells in enumerate(rows):
                for column, value in enumerate(cells):
                    if value is not None:
                        sheet.write(row, column, value)
            for area in merges:
                row, column = xl_cell_to_rowcol(area.split(":")[0])
                sheet.merge_range(area, rows[row][column])
    return path


def write_street(path: Path) -> Path:
    """Write the street inventory; its heading of the girths is merged over feet and inches."""
    return write_book(path, {"Inventory": STREET}, ["A1:J1", "E4:F4"])


def write_plots_again(path: Path) -> Path:
    """Write the plots that were measured in two years; the plot is merged down over its trees."""
    return write_book(path, {"Datos": PLOTS_AGAIN}, ["A3:A5", "A6:A7", "A8:A9"])


def write_heights_only(path: Path) -> Path:
    """Write the sheet of heights; its headings take two rows, and the units one more."""
    return write_book(path, {"Bäume": HEIGHTS_ONLY}, ["A3:B3", "C3:D3", "E3:F3", "G3:H3"])


def write_csv(path: Path, rows: Cells, separator: str = ",", encoding: str = "utf-8") -> Path:
    """Write a text table."""
    target = io.StringIO(newline="")
    csv.writer(target, delimiter=separator).writerows(rows)
    path.write_bytes(target.getvalue().encode(encoding))
    return path


def write_ods(path: Path, tabs: dict[str, Cells]) -> Path:
    """Write an OpenDocument sheet with the fewest parts that make one."""
    kind = "application/vnd.oasis.opendocument.spreadsheet"
    namespaces = " ".join(
        f'xmlns:{short}="urn:oasis:names:tc:opendocument:xmlns:{long}:1.0"'
        for short, long in (("office", "office"), ("table", "table"), ("text", "text"))
    )
    tables = "".join(
        f'<table:table table:name="{escape(name)}">{"".join(map(_ods_row, rows))}</table:table>'
        for name, rows in tabs.items()
    )
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content {namespaces} '
        f'office:version="1.2"><office:body><office:spreadsheet>{tables}'
        "</office:spreadsheet></office:body></office:document-content>"
    )
    manifest = (
        '<?xml version="1.0" encoding="UTF-8"?><manifest:manifest '
        'xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0">'
        f'<manifest:file-entry manifest:full-path="/" manifest:media-type="{kind}"/>'
        "</manifest:manifest>"
    )
    with zipfile.ZipFile(path, "w") as file:
        file.writestr("mimetype", kind)
        file.writestr("META-INF/manifest.xml", manifest)
        file.writestr("content.xml", content)
    return path


def _ods_row(row: Sequence[object]) -> str:
    return f"<table:table-row>{''.join(map(_ods_cell, row))}</table:table-row>"


def _ods_cell(value: object) -> str:
    if value is None:
        return "<table:table-cell/>"
    if isinstance(value, int | float):
        return (
            f'<table:table-cell office:value-type="float" office:value="{value}">'
            f"<text:p>{value}</text:p></table:table-cell>"
        )
    return (
        '<table:table-cell office:value-type="string">'
        f"<text:p>{escape(str(value))}</text:p></table:table-cell>"
    )
