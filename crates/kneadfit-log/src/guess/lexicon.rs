//! Words of headers in English, German, French, Italian and Spanish, in small letters.

/// A thing of which a column may say something.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Thing {
    Rest,
    Development,
    Preferment,
    Flour,
    Water,
    Ice,
    Salt,
    Sugar,
    Fat,
    Room,
    Bowl,
    Dough,
    Batch,
    Machine,
    Date,
    Note,
}

/// Beginnings of words for a thing; the first that is met is what a header is about. Words of
/// less than four letters are whole ones, and those with a blank stand side by side.
#[rustfmt::skip]
pub(super) const THINGS: [(Thing, &[&str]); 16] = [
    (Thing::Rest, &[
        "rest", "resting", "ruhe", "teigruhe", "stockgare", "pause", "autolys", "repos", "pointage",
        "riposo", "reposo",
    ]),
    (Thing::Development, &[
        "development", "gluten", "window", "entwicklung", "teigentwicklung", "kleber", "fenster",
        "développement", "developpement", "sviluppo", "desarrollo",
    ]),
    (Thing::Preferment, &[
        "preferment", "pre-ferment", "vorteig", "sauerteig", "sourdough", "levain", "poolish",
        "biga", "lievito", "pasta madre", "masa madre", "pâte fermentée", "prefermento", "starter",
    ]),
    (Thing::Flour, &["flour", "mehl", "farine", "farina", "harina"]),
    (Thing::Water, &["water", "wasser", "schütt", "eau", "acqua", "agua"]),
    (Thing::Ice, &["ice", "eis", "eismenge", "glace", "ghiaccio", "hielo"]),
    (Thing::Salt, &["salt", "salz", "sel", "sale", "sal"]),
    (Thing::Sugar, &["sugar", "zucker", "sucre", "zucchero", "azúcar", "azucar"]),
    (Thing::Fat, &[
        "fat", "butter", "oil", "fett", "öl", "ölmenge", "beurre", "huile", "burro", "olio",
        "mantequilla", "aceite",
    ]),
    (Thing::Room, &[
        "room", "bakery", "kitchen", "air", "ambient", "raum", "backstube", "küche", "luft",
        "umgebung", "salle", "fournil", "cuisine", "local", "air ambiant", "ambiente", "cucina",
        "laboratorio", "sala", "obrador", "cocina",
    ]),
    (Thing::Bowl, &["bowl", "kessel", "schüssel", "bottich", "cuve", "vasca", "cuenco", "cazo"]),
    (Thing::Dough, &["dough", "teig", "pâte", "pate", "impasto", "masa"]),
    (Thing::Batch, &[
        "batch", "charge", "ansatz", "fournée", "fournee", "pétrissée", "lotto", "infornata",
        "lote", "hornada",
    ]),
    (Thing::Machine, &[
        "machine", "mixer", "maschine", "kneter", "knetmaschine", "mischer", "pétrin", "petrin",
        "batteur", "impastatrice", "amasadora", "máquina", "maquina",
    ]),
    (Thing::Date, &["date", "day", "datum", "tag", "jour", "data", "giorno", "fecha", "día", "dia"]),
    (Thing::Note, &[
        "note", "remark", "comment", "notiz", "bemerkung", "anmerkung", "remarque", "nota",
        "commento", "osservazion", "observacion",
    ]),
];

/// Words for a number that only counts.
#[rustfmt::skip]
pub(super) const NUMBERS: [&str; 17] = [
    "nr", "no", "nº", "n°", "n", "num", "number", "nummer", "lfd", "numéro", "numero", "número",
    "id", "teignummer", "chargennummer", "laufnummer", "nbr",
];

/// Parts of words for a time, and words.
pub(super) const TIMES: [&str; 5] = ["zeit", "durée", "tiempo", "minut", "dauer"];
#[rustfmt::skip]
pub(super) const TIME_WORDS: [&str; 7] =
    ["min", "mins", "temps", "tempo", "time", "durata", "duración"];
/// Words for seconds; one second is a place in a row.
#[rustfmt::skip]
pub(super) const SECONDS: [&str; 8] =
    ["s", "sec", "secs", "seconds", "sek", "sekunden", "secondes", "segundos"];

/// Beginnings of words for a speed, and for what is done at one.
#[rustfmt::skip]
pub(super) const SPEEDS: [&str; 30] = [
    "gang", "stufe", "speed", "gear", "vitesse", "velocità", "velocita", "velocidad", "langsam",
    "schnell", "slow", "fast", "low", "medium", "high", "lent", "lente", "rapid", "lenta", "lento",
    "veloce", "rápid", "kneten", "auskneten", "knead", "mischen", "mixing", "frasage", "pétrissage",
    "amasado",
];
/// Words that make a number of turns of what looks like a time.
#[rustfmt::skip]
pub(super) const TURNS: [&str; 8] =
    ["u", "tr", "rpm", "drehzahl", "umdrehungen", "tours", "giri", "vueltas"];

/// Parts of words for a kind or its name.
#[rustfmt::skip]
pub(super) const KINDS: [&str; 12] = [
    "sort", "typ", "type", "kind", "name", "tipo", "nom", "art", "variety", "rezept", "recipe",
    "marke",
];
pub(super) const WARMTHS: [&str; 5] = ["temp", "°", "warm", "grad", "t°"];
/// Parts of words for how much there is.
#[rustfmt::skip]
pub(super) const AMOUNTS: [&str; 13] = [
    "menge", "gewicht", "masse", "weight", "mass", "amount", "quantit", "poids", "peso",
    "cantidad", "kilo", "gram", "pound",
];
pub(super) const MASS_UNITS: [&str; 6] = ["kg", "g", "gr", "lb", "lbs", "oz"];

/// Beginnings of words that say that a value was wanted, and is no reading.
#[rustfmt::skip]
pub(super) const WANTED: [&str; 27] = [
    "soll", "ziel", "wunsch", "geplant", "vorgabe", "target", "wanted", "planned", "desired",
    "intended", "setpoint", "expected", "forecast", "consigne", "voulu", "cible", "souhait",
    "visée", "prévu", "prevu", "objectif", "obiettivo", "desider", "previst", "voluta", "objetivo",
    "desead",
];
/// The same within words, and words of few letters.
pub(super) const WANTED_WITHIN: [&str; 4] = ["soll", "wunsch", "target", "consigne"];
pub(super) const WANTED_WORDS: [&str; 6] = ["plan", "aim", "goal", "meta", "wish", "ddt"];

/// Words that say that it was read.
#[rustfmt::skip]
pub(super) const READ: [&str; 14] = [
    "ist", "actual", "measured", "read", "reading", "gemessen", "effektiv", "mesuré", "mesurée",
    "réel", "réelle", "misurata", "reale", "medida",
];

/// Words for an end, at which a dough is read.
#[rustfmt::skip]
pub(super) const ENDS: [&str; 9] =
    ["end", "final", "finish", "ende", "endtemp", "fin", "finale", "fine", "uscita"];

/// Words that say nothing of a speed.
#[rustfmt::skip]
pub(super) const LITTLE: [&str; 22] = [
    "at", "of", "the", "in", "on", "with", "auf", "im", "mit", "der", "die", "de", "du", "des",
    "la", "le", "l", "d", "à", "en", "di", "del",
];
