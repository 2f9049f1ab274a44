"""The one list of sources that formulas, checks and tests refer to, by author-year keys.

``seen`` tells how far each was read: "seen" (the passage was read in a retrieved text), "abstract"
(only the abstract or a listing was read), "second-hand" (figures taken from somebody's
reproduction), "from memory" (not looked up) and "computed" (worked out from definitions or from
published data). A key ending in "Undated" is of a text whose year was not checked or not printed.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from xlhelpers.errors import SpecificationError

__all__ = [
    "CONFIDENCES",
    "SOURCES",
    "Source",
]
CONFIDENCES = ("seen", "abstract", "second-hand", "from memory", "computed")


@dataclass(frozen=True)
class Source:
    """One source.

    Parameters
    ----------
    key : str
        Author and year, unique.
    seen : str
        One of ``CONFIDENCES``.
    citation : str
        Author, year, title and where it was published.
    note : str
        What it is used for, and its known faults.
    """

    key: str
    seen: str
    citation: str
    note: str = ""


# fmt: off
_RECORDS = (
    # heights
    Source("DeYoungUndated", "seen",
        "DeYoung, J. Forest Measurements: An Applied Approach. Open Oregon Educational Resources.",
        "Worked examples of percent and topographic scales and of the live crown ratio. Section "
        "2.7 prints a sum of 98 for 74 and 22 and a height that follows from neither."),
    Source("ClinometerLeafletUndated", "seen",
        "Instruction leaflet of an optical clinometer, two editions; maker withheld.",
        "Level ground with eye height; slope correction by the cosine. Prints 2.3 % as the "
        "correction for 9 degrees, which is 1.23 %, and drops decimals in its US examples."),
    Source("ClinometerSpecificationUndated", "seen",
        "Supplier's sheet of an optical clinometer; maker withheld.",
        "Graduation 1 degree and 1 %, absolute accuracy about 1/3 degree."),
    Source("DegreePageUndated", "seen",
        "A school page on finding a tree's height from one angle; author not named.",
        "Of little authority; used as a second witness only."),
    Source("AwfWikiUndated", "seen",
        "AWF-Wiki, University of Göttingen: trigonometric principle; slope correction; stratified "
        "sampling examples."),
    Source("BrackWood1998", "seen",
        "Brack, C.L. & Wood, G.B. (1998) Forest mensuration. Australian National University.",
        "Pages HEIGHT2 and HEIGHT3: sloping distances, lean; two positions agree to 2.5 %."),
    Source("IdahoUndated", "seen",
        "University of Idaho, course FOR 274, lecture slides on heights.",
        "Scale made for a fixed base; lean of 25 % needs special treatment."),
    Source("LeverettUndated", "seen",
        "Leverett, R. Height measurement basics. Native Tree Society.",
        "Sine method; foot hidden from the laser."),
    Source("Leverett2004", "seen",
        "Leverett, R. (26 November 2004) Tangent and sine heights compared. Native Tree Society.",
        "1,330 trees: tangent less sine."),
    Source("Eichholz2004", "seen",
        "Eichholz (24 November 2004) Analysis of angle errors. Native Tree Society.",
        "Growth of an angle's error by the sine method."),
    Source("Edi1559Undated", "seen",
        "Environmental Data Initiative, data package edi.1559, metadata of long-term plots.",
        "Height from two straight distances."),
    Source("AschenbachUndated", "seen",
        "Aschenbach. Article on height routines of laser instruments.",
        "Three-point routine and its limits."),
    Source("NativeTreeSocietyUndated", "seen",
        "Native Tree Society: measuring problems, number 10.",
        "Two stations in line with the tree."),
    Source("IowaUndated", "seen",
        "Iowa Department of Natural Resources: measuring big trees.",
        "Ruler at 25 inches from the eye."),
    Source("WoodlandStewardshipUndated", "seen",
        "Woodland Stewardship: a practical guide for Midwestern landowners, chapter 2."),
    Source("NewJerseyUndated", "seen",
        "New Jersey Forest Service: measuring big trees."),
    Source("NswGuidelineUndated", "seen",
        "New South Wales, Private Native Forestry, Guideline 4.",
        "Proportion mark on the stem; stand about one height away."),
    Source("Bragg2007", "seen",
        "Bragg, D.C. (2007) The sine method as a more accurate height predictor for hardwoods. "
        "USDA Forest Service GTR SRS-101, 23-33."),
    Source("LarjavaaraMullerLandau2013", "abstract",
        "Larjavaara, M. & Muller-Landau, H.C. (2013) Measuring tree height. Methods in Ecology "
        "and Evolution. doi 10.1111/2041-210X.12071",
        "Direction of the two methods' biases."),
    Source("Marthews2013", "seen",
        "Marthews (2013) Note on tree height and stem length, GEM network list."),
    Source("WilliamsEtAl1994", "abstract",
        "Williams, M.S., Bechtold, W.A. & LaBau, V.J. (1994) Five instruments for measuring tree "
        "height. Southern Journal of Applied Forestry 18(2), 76-82. doi 10.1093/sjaf/18.2.76"),
    Source("KershawEtAlUndated", "from memory",
        "Kershaw, J.A. et al. Forest Mensuration.",
        "Textbook statement that 45 degrees is the best angle."),
    # uncertainty and units
    Source("JCGM2008", "from memory",
        "JCGM 100:2008 Evaluation of measurement data: guide to the expression of uncertainty in "
        "measurement. Joint Committee for Guides in Metrology.",
        "Law of propagation, 5.1.2; rectangular distribution, 4.3.7."),
    Source("NIST2008", "from memory",
        "Thompson, A. & Taylor, B.N. (2008) Guide for the use of the International System of "
        "Units. NIST Special Publication 811, appendix B.",
        "Exact factors of the foot, the inch and the acre."),
    Source("LuomaEtAl2017", "abstract",
        "Luoma, V. et al. (2017) Assessing precision in conventional field measurements of "
        "individual tree attributes. Forests 8(2), 38. doi 10.3390/f8020038",
        "319 trees, four observers: diameter 0.3 cm (1.5 %), height 0.5 m (2.9 %)."),
    Source("SchillingUndated", "seen",
        "Schilling. In: USDA Forest Service PSW-GTR-155, section 8.",
        "Remeasurement: height 1.0 m, diameter 0.2 cm, live crown 5 %."),
    Source("RomanEtAl2017", "second-hand",
        "Roman, L.A. et al. (2017) Data quality in citizen science urban tree inventories. Urban "
        "Forestry & Urban Greening 22, 124-135.",
        "Volunteers against experts."),
    Source("FieldGuideFromMemory", "from memory",
        "USDA Forest Service, national core field guide, phases 2 and 3: tolerances."),
    Source("LaserFromMemory", "from memory",
        "Usual specification of laser instruments with angles: 0.25 degrees and 0.3 m."),
    # crowns
    Source("ToneyReeves2009", "abstract",
        "Toney, C. & Reeves, M.C. (2009) Equations to convert compacted crown ratio to "
        "uncompacted crown ratio. Western Journal of Applied Forestry 24(2), 76-82."),
    Source("AnuCodeUndated", "seen",
        "Code of Forest Mensuration Practice. Australian National University.",
        "Section 2.3.1: at least two crown diameters, averaged."),
    Source("ZhangEtAl2024", "abstract",
        "Zhang et al. (2024) Journal of Forestry Research 35, 79. doi 10.1007/s11676-024-01719-5",
        "Means of axes compared on 30 trees."),
    Source("ZhuKleinnNolke2021", "abstract",
        "Zhu, Z., Kleinn, C. & Nölke, N. (2021) Assessing tree crown volume: a review. Forestry. "
        "doi 10.1093/forestry/cpaa037",
        "Solids of revolution; the volumes follow from geometry."),
    Source("Coder2005", "from memory",
        "Coder, K.D. (2005) Crown shape factors and volumes. University of Georgia, Warnell "
        "School of Forestry, FOR00-032.",
        "Shape multipliers recalled, not read."),
    Source("Nowak1996", "second-hand",
        "Nowak, D.J. (1996) Estimating leaf area and leaf biomass of open-grown deciduous urban "
        "trees. Forest Science 42(4), 504-507.",
        "Abstract read; coefficients, the term 0.1159 and the ranges from reproductions."),
    Source("TregenzaSharplesUndated", "second-hand",
        "Tregenza, P. & Sharples, S. Daylight algorithms, 1.44: obstruction of the sky by trees. "
        "After Wilkinson, D.M. (1992) Modelling light attenuation by urban trees. PhD thesis, "
        "Manchester Metropolitan University.",
        "Sky visible through mature crowns, by English names; the thesis was not read."),
    Source("GardnerUndated", "abstract",
        "Gardner, T.J., on the pages of the American Society for Horticultural Science: abstract "
        "on the solar radiation that five ornamental trees intercept.",
        "Shade of foliated crowns by pyranometer. Title and year were not printed there. From "
        "memory: Gardner & Sydnor (1984) Interception of summer and winter insolation by five "
        "shade tree species."),
    Source("KarlikMcKayUndated", "seen",
        "Karlik, J.F. & McKay, A.H. In: proceedings of an oak symposium, USDA Forest Service."),
    Source("CoombesEtAl2019", "abstract",
        "Coombes, A., Martin, J. & Slater, D. (2019) Defining the allometry of stem and crown "
        "diameter of urban trees. Urban Forestry & Urban Greening 44, 126421.",
        "Crown diameter 24 to 27 times the stem's, 400 free-standing trees of four species."),
    Source("BigTreeGuidesUndated", "seen",
        "American big-tree measuring guides, pages of several states.",
        "Points from girth, height and spread; waist of a joined stem."),
    # stems
    Source("SrefUndated", "seen",
        "Forester's handbook, basal area table. Southern Regional Extension."),
    Source("LarsenUndated", "seen",
        "Larsen, D.R. Quadratic mean diameter. Course notes."),
    Source("MultiStemUndated", "seen",
        "Instructions of a town and of an extension service on trees with several stems.",
        "Root of the sum of squares of 5, 6 and 8 in is 11 in."),
    Source("TreeOrdinanceUndated", "seen",
        "A town's tree ordinance: largest stem plus half of the others.",
        "Another rule for the same stems. Not used here."),
    Source("BreastHeightUndated", "seen",
        "A compilation of breast heights in use by country.",
        "4.5 ft (1.37 m) in the US, 1.30 m in most metric countries."),
    Source("RyanEtAl1976", "seen",
        "Ryan, T.A., Joiner, B.L. & Ryan, B.F. (1976) The Minitab student handbook: 31 felled "
        "black cherry trees, as distributed with statistical programs (data set trees)."),
    Source("WykoffEtAl1982", "second-hand",
        "Wykoff, W.R., Crookston, N.L. & Stage, A.R. (1982) User's guide to the stand prognosis "
        "model. USDA Forest Service GTR INT-133."),
    Source("HanusEtAl1999", "second-hand",
        "Hanus, M.L., Marshall, D.D. & Hann, D.W. (1999) Height-diameter equations. Oregon State "
        "University, Forest Research Laboratory, Research Contribution 25."),
    Source("Naslund1936", "from memory",
        "Näslund, M. (1936); title not noted."),
    Source("SullivanEtAl2018", "seen",
        "Sullivan, M.J.P. et al. (2018) Field methods for sampling tree height for tropical forest "
        "biomass estimation. Methods in Ecology and Evolution.",
        "A local height curve asks for at least 50 heights, the ten largest trees among them."),
    Source("Jillich2013", "seen",
        "Jillich et al. (2013) Pulling tests of solitary trees; title not noted.",
        "Pulling tests did not uphold a limit of height over diameter."),
    # plots, sampling, quality of data
    Source("CommonStandExamUndated", "seen",
        "USDA Forest Service, Common Stand Exam field guide, appendix I, table 1.",
        "Radii of plots, level and on slopes."),
    Source("Freese1962", "seen",
        "Freese, F. Elementary forest sampling. USDA Agriculture Handbook 232.",
        "Read in a web edition of chapter 3; the year is from memory."),
    Source("Cochran1977", "from memory",
        "Cochran, W.G. (1977) Sampling techniques, third edition. Wiley.",
        "Sections 2.11, 5.4, 5.5, 6.10 and 6.11: ratios, strata, allocation, combined ratio; "
        "section 5A.12: collapsed strata."),
    Source("HuangIsakiUndated", "abstract",
        "Huang & Isaki. Variance estimation using auxiliary information under a one unit per "
        "stratum sample design.",
        "Collapsed strata (Cochran 1977) are the most common way, with too large a variance where "
        "the totals of a pair differ a lot."),
    Source("Satterthwaite1946", "from memory",
        "Satterthwaite, F.E. (1946) An approximate distribution of estimates of variance "
        "components. Biometrics Bulletin 2, 110-114.",
        "Degrees of freedom of a sum of variances."),
    Source("Robbins1944", "from memory",
        "Robbins, H.E. (1944) On the measure of a random set. Annals of Mathematical Statistics "
        "15, 70-74.",
        "Expected area under figures laid at random; 1 - exp(-c) follows for many small ones."),
    Source("APG2016", "from memory",
        "Angiosperm Phylogeny Group (2016) An update of the Angiosperm Phylogeny Group "
        "classification for the orders and families of flowering plants: APG IV. Botanical Journal "
        "of the Linnean Society 181, 1-20.",
        "The family of each genus on the species list; that table was written from memory."),
    Source("Simpson1949", "from memory",
        "Simpson, E.H. (1949) Measurement of diversity. Nature 163, 688.",
        "Chance that two picked at random are of one species, from a sample."),
    Source("SpellmanUndated", "second-hand",
        "Spellman. Example 7.5: volume of a forest blown up from its mean by acre.",
        "Read in a web copy."),
    Source("TallyExampleUndated", "second-hand",
        "A web page with 5 trees on 23 plots of a tenth of an acre.",
        "Of little authority; an identity."),
    Source("ScheafferEtAlUndated", "seen",
        "Scheaffer, R.L., Mendenhall, W. & Ott, L. Elementary Survey Sampling, example 6.1.",
        "Read in a course copy."),
    Source("TimberCruisingUndated", "seen",
        "USDA Forest Service Handbook FSH 2409.12, Timber Cruising, chapter 30."),
    Source("IglewiczHoaglin1993", "from memory",
        "Iglewicz, B. & Hoaglin, D.C. (1993) How to detect and handle outliers. ASQC.",
        "Modified z with 0.6745 and a cut of 3.5."),
    Source("WhippleUndated", "seen",
        "Whipple's index as used in demographic work of the United Nations.",
        "Heaping of final digits on 0 and 5."),
    Source("BlandAltman1986", "second-hand",
        "Bland, J.M. & Altman, D.G. (1986) Statistical methods for assessing agreement. Lancet i, "
        "307-310."),
    Source("Wilson1927", "from memory",
        "Wilson, E.B. (1927) Probable inference, the law of succession, and statistical "
        "inference. Journal of the American Statistical Association 22, 209-212.",
        "Confidence limits of a share."),
    Source("ClopperPearson1934", "from memory",
        "Clopper, C.J. & Pearson, E.S. (1934) The use of confidence or fiducial limits illustrated "
        "in the case of the binomial. Biometrika 26, 404-413.",
        "Exact confidence limits of a share."),
    Source("Wilks1941", "from memory",
        "Wilks, S.S. (1941) Determination of sample sizes for setting tolerance limits. Annals of "
        "Mathematical Statistics 12, 91-96.",
        "How many all within make a share certain: share to the power n below the chance."),
    Source("Newcombe1998", "from memory",
        "Newcombe, R.G. (1998) Two-sided confidence intervals for the single proportion. "
        "Statistics in Medicine 17, 857-872.",
        "Table I: worked limits of shares."),
    Source("BucklandOthers2001", "second-hand",
        "Buckland, S.T., Anderson, D.R., Burnham, K.P., Laake, J.L., Borchers, D.L. & Thomas, L. "
        "(2001) Introduction to Distance Sampling. Oxford University Press.",
        "Limits of a number of animals on the scale of logarithms: the number times and divided by "
        "exp(t sqrt(ln(1 + cv2))), as two pages on distance sampling quote it."),
    Source("Johnson1978", "second-hand",
        "Johnson, N.J. (1978) Modified t tests and confidence intervals for asymmetrical "
        "populations. Journal of the American Statistical Association 73, 536-544.",
        "How skewed values move Student's t. Formula 2.5, t + g t2 / (3 sqrt n) + g / (6 sqrt n) "
        "with the skewness g, as others quote it."),
    Source("KornGraubard1998", "second-hand",
        "Korn, E.L. & Graubard, B.I. (1998) Confidence intervals for proportions with small "
        "expected number of positive counts estimated from survey data. Survey Methodology 24, "
        "193-201.",
        "Limits of shares from a survey, with the degrees of freedom of its design. A tutorial of "
        "the US health survey counts for them the sampling units in which the group was found, "
        "less the strata. The limits themselves are exact ones, which are not used here."),
    Source("LumleyUndated", "seen",
        "Lumley, T. survey: analysis of complex survey samples. Package for R, version 4.1, manual "
        "page svyciprop.",
        "Method xlogit: limits of a share on the scale of logits, taken back. A second witness of "
        "the estimates."),
    Source("KupperHafner1989", "from memory",
        "Kupper, L.L. & Hafner, K.B. (1989) How appropriate are popular sample size formulas? The "
        "American Statistician 43, 101-105.",
        "A size planned on the expected margin keeps it in about half of the samples."),
    Source("WilsonHilferty1931", "from memory",
        "Wilson, E.B. & Hilferty, M.M. (1931) The distribution of chi-square. Proceedings of the "
        "National Academy of Sciences 17, 684-688.",
        "Quantiles of chi-square."),
    Source("PaulsenEtAl2012", "second-hand",
        "Paulsen, A., Overgaard, S. & Lauritsen, J.M. (2012) Quality of data entry using single "
        "entry, double entry and automated forms processing. PLoS ONE 7(4): e35087.",
        "Errors left after entering data once and twice, in 1,000 fields."),
    Source("BarchardEtAl2019", "second-hand",
        "Barchard, K.A., Freeman, A.J., Ochoa, E. & Stephens, A.K. (2019) Comparing the accuracy "
        "and speed of four data-checking methods. Behavior Research Methods. "
        "doi 10.3758/s13428-019-01207-3.",
        "People who make two entries match bring in new errors."),
    Source("McPhersonEtAl2016", "seen",
        "McPherson, E.G., van Doorn, N.S. & Peper, P.J. (2016) Urban tree database. USDA Forest "
        "Service Research Data Archive. doi 10.2737/RDS-2016-0005; GTR PSW-253."),
    # no text behind it
    Source("Identity", "computed",
        "A constructed case, worked out from the definition and not published anywhere."),
)


# fmt: on


def _check_records(records: tuple[Source, ...]) -> Mapping[str, Source]:
    """The records by key, once none contradicts itself."""
    by_key = {record.key: record for record in records}
    if len(by_key) < len(records):
        raise SpecificationError("two sources share a key")
    for record in records:
        if record.seen not in CONFIDENCES:
            raise SpecificationError(f"source {record.key!r}: unknown confidence {record.seen!r}")
    return MappingProxyType(by_key)


SOURCES: Mapping[str, Source] = _check_records(_RECORDS)
"""The sources by key."""
