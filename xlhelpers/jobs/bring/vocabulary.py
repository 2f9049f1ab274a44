"""How the trade heads its columns, in English, Spanish, French and German: a table of data.

One row a role, that is, what a column may be. Phrases are parted by semicolons; "=" before one
means that the heading must consist of these words alone, because they are too common or too short
otherwise. The words are common usage of the trade; no source.
"""

from typing import NamedTuple

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.places import PLOTS

KEEP = "keep"
"""A column whose cells go into the note with their heading, because no other field takes them."""


class Role(NamedTuple):
    """What a column may be: its name, its headings in four languages, and the quantity it has.

    `repeats` says whether a second such column is a second set-up of the tree.
    """

    name: str
    english: str
    spanish: str
    french: str
    german: str
    quantity: str = ""
    repeats: bool = False

    @property
    def phrases(self) -> tuple[str, ...]:
        """Return all headings."""
        texts = (self.english, self.spanish, self.french, self.german)
        return tuple(phrase.strip() for text in texts for phrase in text.split(";") if phrase)


ROLES: tuple[Role, ...] = (
    Role(
        "plot",
        "plot; plot no; sample plot; plot id; quadrat; plot tag",
        "parcela; no parcela; unidad de muestreo; sitio de muestreo",
        "placette; no placette; parcelle; placeau; unite d'echantillonnage",
        "Probefläche; Probekreis; Plot-Nr; Flächennummer; =Fläche; Aufnahmefläche; Parzelle",
    ),
    Role(
        "plot_part",
        "plot type; plot kind; subplot; transect; block",
        "tipo de parcela; subparcela; transecto",
        "type de placette; sous-placette; transect",
        "Plottyp; Teilfläche; Transekt",
    ),
    Role(
        "year",
        "year; survey year; =visit; =survey",
        "año; año de medición",
        "année; =campagne",
        "Jahr; Aufnahmejahr",
    ),
    Role(
        "street",
        "street; street name; road; avenue",
        "calle; avenida; nombre de la calle; vía",
        "rue; nom de la rue; voie",
        "Straße; Strasse; Straßenname",
    ),
    Role(
        "stratum",
        "stratum; district; zone; neighbourhood; neighborhood; ward; unit code; land use; =area",
        "estrato; barrio; distrito; zona",
        "strate; quartier; arrondissement; secteur",
        "Stratum; Stadtteil; Bezirk; Ortsteil; Schicht",
    ),
    Role(
        "tree",
        "tree; tree no; tree id; tree tag; =tag; tag no; =no; =id",
        "árbol; no árbol; =no; =código; id árbol",
        "arbre; no arbre; =no; id arbre",
        "Baum; Baum-Nr; Baumnummer; =Nr; =lfd Nr; Baum-ID; =BaumNr",
    ),
    Role(
        "setup",
        "set-up; setup; station",
        "estación; =puesto",
        "station; =poste",
        "Standpunkt; Aufstellung",
    ),
    Role(
        "species",
        "species; tree species; scientific name; species botanical; species latin; "
        "botanical name; latin name; taxon",
        "especie; nombre científico; nombre botánico",
        "espèce; essence; nom scientifique; nom latin; nom botanique",
        "Baumart; Gehölzart; =Art; =Gehölz; Baumart botanisch; Art botanisch; Baumart lateinisch; "
        "wissenschaftlicher Name; botanischer Name; lateinischer Name",
    ),
    Role(
        "common",
        "common name; english name; vernacular name; species common; common species",
        "nombre común; nombre vulgar",
        "nom commun; nom vernaculaire; nom français",
        "deutscher Name; Trivialname; Baumart deutsch; Art deutsch; Name deutsch",
    ),
    Role(
        "condition",
        "condition; =cond; status; tree status; live dead; alive dead; living dead; "
        "=alive; =dead; =live",
        "estado; condición; vivo muerto; =vivo; =muerto",
        "état; vivant mort; =vivant; =mort",
        "Zustand; lebend tot; =tot; =lebend",
    ),
    Role(
        "diameter",
        "DBH; diameter; stem diameter; trunk diameter; diameter breast height; "
        "tree diameter; trunk size; =D",
        "DAP; diámetro; diámetro del tronco; diámetro altura pecho; diámetro normal",
        "diamètre; DHP; diamètre du tronc; D 1 3; D 130; D130; diamètre à hauteur de poitrine",
        "BHD; Durchmesser; Stammdurchmesser; Brusthöhendurchmesser",
        "diameter",
    ),
    Role(
        "girth",
        "girth; GBH; CBH; circumference; trunk circumference; stem girth; trunk girth; "
        "girth breast height",
        "perímetro; circunferencia; CAP; perímetro del tronco; circunferencia altura pecho",
        "circonférence; circonférence du tronc; =circ; =C 130; C130",
        "Umfang; Stammumfang; =StU; Brusthöhenumfang",
        "diameter",
    ),
    Role(
        "other_stems",
        "other stems; stems; other diameters; stem diameters; =multi-stem",
        "otros tallos; otros troncos; diámetros de tallos",
        "autres tiges; autres troncs; brins",
        "weitere Stämme; Stämmlinge; andere Stämme",
        "diameter",
    ),
    Role(
        "stem", "stem; trunk", "tallo; tronco", "tige; tronc; brin", "Stamm; Stämmling", "diameter"
    ),
    Role(
        "width_widest",
        "widest crown; crown width widest; crown width maximum; widest; crown spread maximum",
        "ancho máximo de copa; diámetro mayor de copa; diámetro máximo de copa",
        "largeur maximale du houppier; plus grand diamètre du houppier",
        "größte Kronenbreite; größter Kronendurchmesser",
        "length",
    ),
    Role(
        "width_across",
        "crown width across; crown width perpendicular; narrowest crown; "
        "crown width minimum; =across",
        "diámetro menor de copa; ancho mínimo de copa; ancho perpendicular de copa",
        "largeur perpendiculaire du houppier; plus petit diamètre du houppier",
        "kleinste Kronenbreite; kleinster Kronendurchmesser",
        "length",
    ),
    Role(
        "width",
        "crown width; crown diameter; crown spread; =spread; branch spread",
        "ancho de copa; diámetro de copa; =copa",
        "largeur du houppier; diamètre du houppier; "
        "diamètre de couronne; largeur de couronne; largeur de la cime; =houppier",
        "Kronenbreite; Kronendurchmesser; Kronen-Ø; =Krone; Krone Breite; Krone Durchmesser",
        "length",
    ),
    Role(
        "recorded_width",
        "mean crown width; average crown width; mean crown diameter; "
        "average crown spread; mean crown spread; average crown diameter",
        "ancho medio de copa; diámetro medio de copa",
        "largeur moyenne du houppier; diamètre moyen du houppier",
        "mittlere Kronenbreite; mittlerer Kronendurchmesser",
        "length",
    ),
    Role(
        "radius",
        "crown radius; crown spread radius; radius",
        "radio de copa; radio",
        "rayon du houppier; rayon de couronne; rayon",
        "Kronenradius; Radius",
        "length",
    ),
    Role(
        "distance",
        "distance; distance to tree; horizontal distance; level distance; "
        "ground distance; slope distance; slant distance; tape",
        "distancia; distancia al árbol; distancia horizontal; distancia inclinada",
        "distance à l'arbre; distance horizontale; distance inclinée; éloignement",
        "Entfernung; Abstand; Distanz; Horizontalentfernung; Schrägentfernung; "
        "Horizontaldistanz; Schrägdistanz",
        "length",
        True,
    ),
    Role(
        "foot_reading",
        "foot; foot reading; base reading; base angle; bottom; bottom reading; "
        "bottom angle; lower reading; lower angle; ground reading; =base; tree base; "
        "=bot; reading to base; angle to base; angle base; percent base; butt",
        "pie; lectura al pie; lectura base; ángulo a la base; ángulo inferior; =base; "
        "lectura inferior; ángulo pie; lectura pie",
        "pied; visée pied; visée au pied; lecture pied; angle pied; angle bas; =base; "
        "lecture base; visée basse; angle au pied",
        "Fuß; Fußpunkt; Stammfuß; Ablesung Fuß; Winkel unten; Ablesung unten; Winkel Fuß; "
        "Messung Fuß; =unten",
        "reading",
        True,
    ),
    Role(
        "base_reading",
        "crown base reading; crown base angle; crown base; live crown base; "
        "reading to crown base; angle to crown base; base of crown; base of live crown",
        "base de copa; lectura base de copa; ángulo a base de copa; =copa inferior",
        "base du houppier; base de la couronne; visée base du houppier; lecture base houppier",
        "Kronenansatz; Kronenbasis; Ablesung Kronenansatz; Winkel Kronenansatz",
        "reading",
        True,
    ),
    Role(
        "top_reading",
        "crown top; crown top reading; live crown top; live top",
        "ápice vivo; copa viva; límite superior de copa",
        "sommet vivant; haut du houppier vivant",
        "lebender Wipfel; Kronenspitze lebend",
        "reading",
        True,
    ),
    Role(
        "tip_reading",
        "tip; tip reading; top; top reading; top angle; tree top; upper reading; "
        "upper angle; reading to top; angle to top; angle top; percent top; tip angle; =leader",
        "ápice; lectura al ápice; lectura ápice; cima; ángulo superior; ángulo a la cima; "
        "lectura superior; ángulo ápice; =punta; lectura punta",
        "sommet; cime; visée sommet; visée au sommet; lecture sommet; angle sommet; angle haut; "
        "visée haute; angle au sommet; lecture cime",
        "Spitze; Wipfel; Baumspitze; Ablesung Spitze; Winkel oben; Ablesung oben; "
        "Winkel Spitze; Messung Spitze; Ablesung Wipfel; =oben",
        "reading",
        True,
    ),
    Role(
        "slope_reading",
        "slope reading; ground slope; slope angle; slope along tape",
        "pendiente; lectura de pendiente",
        "pente; lecture de pente",
        "Hangneigung; Neigung",
        "reading",
        True,
    ),
    Role(
        "mark_above_foot",
        "mark; mark height; height of mark; mark above foot; base height; "
        "height of target; target height; reference mark",
        "marca; altura de la marca; altura marca",
        "repère; hauteur du repère; hauteur repère",
        "Marke; Markenhöhe; Höhe der Marke; Höhe Marke",
        "length",
        True,
    ),
    Role(
        "height",
        "height; total height; tree height; top height; =H; overall height; height total",
        "altura; altura total; altura del árbol; alto",
        "hauteur; hauteur totale; hauteur de l'arbre",
        "Höhe; Baumhöhe; Gesamthöhe; Scheitelhöhe",
        "length",
        True,
    ),
    Role(
        "base_height",
        "crown base height; height to crown base; height to live crown base; "
        "height crown base; clear stem; clear stem height; height to live crown; clear bole; "
        "first branch height; height first branch; crown clearance; bole height; "
        "height of crown base; =LCB; =HCB; =HLC; =HBLC",
        "altura base de copa; altura a la base de la copa; altura de fuste; fuste limpio; "
        "altura primera rama; altura del fuste",
        "hauteur base du houppier; hauteur de la base du houppier; hauteur du fût; "
        "hauteur première branche; hauteur sous couronne; hauteur sous houppier",
        "Kronenansatzhöhe; Höhe Kronenansatz; astfreie Länge; Stammhöhe; Schafthöhe; "
        "Höhe des Kronenansatzes",
        "length",
        True,
    ),
    Role(
        "top_height",
        "crown top height; height to live crown top; live top height",
        "altura ápice vivo",
        "hauteur du sommet vivant",
        "Höhe lebender Wipfel",
        "length",
        True,
    ),
    Role(
        "recorded_depth",
        "crown depth; crown length; live crown length; length of crown",
        "longitud de copa; profundidad de copa; largo de copa",
        "longueur du houppier; profondeur du houppier; longueur de couronne",
        "Kronenlänge; Kronentiefe",
        "length",
    ),
    Role(
        "diameter_at",
        "diameter measured at; height of diameter; height of girth; girth height",
        "altura de medición del diámetro",
        "hauteur de mesure du diamètre",
        "Messhöhe; Höhe der Durchmessermessung",
        "length",
    ),
    Role(
        "bearing",
        "bearing; azimuth",
        "azimut; rumbo",
        "azimut; gisement",
        "Azimut; Richtung",
        "bearing",
    ),
    Role(
        "centre_distance",
        "distance from plot centre; distance from center; "
        "distance from centre; distance to plot center; distance to centre; distance to center",
        "distancia al centro",
        "distance au centre",
        "Abstand vom Mittelpunkt; Entfernung Mittelpunkt; Abstand zum Zentrum",
        "length",
    ),
    Role(
        "instrument",
        "instrument; =method; height method; device; height instrument; =laser; measured with",
        "instrumento; =método; aparato",
        "instrument; =méthode; appareil",
        "Gerät; Messgerät; Instrument; =Methode",
    ),
    Role("scale", "scale; scale read; units of reading", "escala", "échelle; graduation", "Skala"),
    Role(
        "distance_kind",
        "distance kind; kind of distance; type of distance; distance type",
        "tipo de distancia",
        "type de distance",
        "Art der Entfernung; Distanzart",
    ),
    Role(
        "eye_height",
        "eye height; eye level; height of eye",
        "altura del ojo; altura de ojos; altura del observador",
        "hauteur de l'œil; hauteur des yeux; hauteur oeil",
        "Augenhöhe",
        "length",
    ),
    Role(
        "date",
        "date; survey date; date measured; day",
        "fecha; fecha de medición",
        "date; jour",
        "Datum; Aufnahmedatum; Tag",
    ),
    Role(
        "crew",
        "crew; observer; surveyor; recorder; measured by; surveyed by; initials; team; "
        "inspector; assessor",
        "equipo; observador; responsable; brigada; técnico; iniciales; medido por",
        "équipe; observateur; opérateur; relevé par; mesuré par; agent",
        "Aufnehmer; Bearbeiter; Trupp; Beobachter; Team; gemessen von; Kürzel",
    ),
    Role(
        "group",
        "owner; ownership; group",
        "propietario; propiedad; grupo",
        "propriétaire; groupe",
        "Eigentümer; Gruppe",
    ),
    Role(
        "note",
        "note; notes; comment; comments; remark; remarks; observations",
        "observaciones; notas; nota; comentarios",
        "remarque; remarques; observations; commentaire; commentaires; notes",
        "Bemerkung; Bemerkungen; Anmerkung; Anmerkungen; Notiz; Kommentar",
    ),
    Role(
        KEEP,
        "house no; house number; address; post code; postcode; latitude; longitude; "
        "easting; northing; coordinates; =X; =Y; photo; photo no; health; vigour; vigor; "
        "priority; age class; life form; crown class; height class; diameter class; site; "
        "defects; =age; crown height; planting year; year planted; stem count; no of stems; "
        "number of stems; crown condition; crown ratio; live crown ratio; slenderness; "
        "basal area; volume; height diameter ratio; mean height; height of eye clearance; "
        "inspection; recommendation; work needed; due; date planted; planting date; date removed; "
        "height class",
        "número de casa; dirección; código postal; foto; vigor; edad; altura de copa; "
        "número de tallos; coordenadas; área basal; volumen; fecha de plantación",
        "numéro de rue; adresse; code postal; photo; vigueur; âge; hauteur du houppier; "
        "nombre de tiges; coordonnées; surface terrière; volume; année de plantation; "
        "date de plantation",
        "Hausnummer; Haus Nr; Adresse; Postleitzahl; PLZ; Foto; Vitalität; Alter; Kronenhöhe; "
        "Stammzahl; Anzahl Stämme; Koordinaten; Grundfläche; Volumen; Pflanzjahr; Pflanzdatum; "
        "Hausnr; Rechtswert; Hochwert; Maßnahme",
    ),
)
BY_NAME: dict[str, Role] = {role.name: role for role in ROLES}
_OWN_LABELS = {
    "plot": "Plot",
    "plot_part": "Part of the plot's name",
    "year": "Year of the survey",
    "street": "Street",
    "stratum": PLOTS["stratum"].label,
    "common": "Common name",
    "girth": "Girth",
    "stem": "Another stem",
    "width": "Crown width",
    "radius": "Crown radius",
    "height": "Total height",
    "base_height": "Height of the crown base",
    "top_height": "Height of the crown top",
    "eye_height": "Eye height",
    "date": PLOTS["date"].label,
    "crew": PLOTS["crew"].label,
    KEEP: "Kept in the note",
}


def role_label(name: str) -> str:
    """Return what a role is called for people."""
    return _OWN_LABELS.get(name) or FIELD_SHEET[name].label


_TOTAL_WORDS_TEXT = (
    "total totals subtotal sum mean average count maximum minimum max min median suma "
    "promedio media recuento somme moyenne nombre moy summe mittel mittelwert durchschnitt "
    "anzahl gesamt zwischensumme sous-total subtotales totaux insgesamt"
)
TOTAL_WORDS = tuple(_TOTAL_WORDS_TEXT.split())
"""First words of a row that adds up the rows above it."""
PLOT_WORDS = ("plot", "parcela", "placette", "probefläche", "fläche", "parzelle", "parcelle", "p")
"""Words before the number of a plot in the name of a tab or in a line above the table."""
DEAD_WORDS = (
    "dead; standing dead; dead standing; snag; dead tree; deceased; muerto; muerta; seco; "
    "muerto en pie; árbol muerto; mort; morte; mort sur pied; arbre mort; sec; tot; abgestorben; "
    "totholz; stehend tot; toter baum"
)
DEAD_TOP_WORDS = (
    "dead top; dead-top; top dead; ápice muerto; punta seca; copa seca; cime morte; "
    "sommet mort; cime sèche; wipfel tot; wipfeldürr; wipfeldürre; zopftrocken; dürrer wipfel"
)
LIVING_WORDS = (
    "live; living; alive; ok; vivo; viva; vivant; vivante; vif; lebend; lebendig; vital; "
    "healthy; sano; sana; sain; gesund"
)
DEAD_LETTERS, LIVING_LETTERS = frozenset("dm"), frozenset("lav")
"""One-letter codes of a column of conditions: dead, mort, muerto; live, alive, vivo, vivant."""
ESTIMATE_WORDS = (
    "est; est.; estimated; estimate; approx; approx.; approximately; about; ca; ca.; c.; circa; "
    "env; env.; environ; aprox; aprox.; aproximadamente; estimado; estimada; estimé; estimée; "
    "gesch; gesch.; geschätzt; etwa; zirka; ungefähr; ~; ≈; ±"
)
_STEM_WORDS_TEXT = (
    "stem stems stemmed trunk trunks tallo tallos tronco troncos pie pies tige tiges tronc "
    "troncs brin brins stamm stämme stämmig stämmlinge"
)
STEM_WORDS = tuple(_STEM_WORDS_TEXT.split())
LASER_WORDS = (
    ("ultrason", "ultrasonic height meter"),
    ("ultraschall", "ultrasonic height meter"),
    ("pole", "pole or tape"),
    ("tape", "pole or tape"),
    ("vara", "pole or tape"),
    ("perche", "pole or tape"),
    ("latte", "pole or tape"),
)
"""Parts of the name of an instrument that shows heights, and its kind."""
