"""Formulas: numbers in, numbers out.

Every module has one subject and imports numpy only (with the errors and the sources of this
project), so the same formulas run in the batch program and inside the spreadsheet. In order:

    arrays          how a value or a column becomes an array of numbers, and back
    units           exact conversions of length, area and volume
    slopes          readings on any scale to slopes (tangents) and angles, and back
    distances       level distances, plot radii, how far to stand back
    sightings       heights from slopes and distances
    lean            heights on leaning stems; the near edge of a broad crown
    stick           heights by similar triangles
    two_stations    heights where the distance cannot be measured
    heights         the public list of ways to a height; adds no arithmetic
    solids          bodies that stand for a crown
    leaf_area       leaf area of open-grown broadleaves, by a published regression
    crowns          depth, ratio, widths, area, volume
    crown_radii     the same from four radii, and how far the crown stands off the stem
    positions       distances of places on the globe
    stems           combined diameter, basal area, mean diameters
    accuracy        the records that describe a sighting and how well it was read
    uncertainty     standard uncertainties of heights, by propagation
    lean_uncertainty  the same on leaning stems
    instruments     a table of kinds of instruments with default accuracies

Three rules hold everywhere. A number gives a number and an array gives an array; inputs are
broadcast against each other. A missing, impossible or unreadable value gives NaN, never an
exception. ``ReadingError`` is raised for misuse only: an unknown scale, solid or unit, or arrays
whose lengths do not fit together.

Inside the program lengths are metres, angles degrees and shares fractions; a formula whose
docstring says "any length unit" gives its result in the unit that it was given.
"""
