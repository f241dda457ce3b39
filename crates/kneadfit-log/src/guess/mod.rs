//! What a table's columns most likely are: best guesses, for the baker to confirm.

mod lexicon;
mod list;
mod words;

use std::collections::HashSet;
use std::io::Read;
use std::sync::Arc;

use serde::Serialize;

use crate::cell::as_text;
use crate::column_names::ColumnNames;
use crate::columns::HeaderFault;
use crate::names::{self, Meaning, is_speed_name, near};
use crate::options::ReadOptions;
use crate::problem::{Problem, ProblemKind, Severity};
use crate::source::Source;
use words::{Says, by_words};

/// How sure a guess is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Sureness {
    /// The header is the log's own name: no guess at all.
    Known,
    /// The header nearly spells the name, or says the thing and its unit in words.
    Likely,
    /// The header says the thing; unit or speed is supposed.
    Supposed,
    /// The header says that a value was wanted: it is no reading, and no column of a log.
    Wanted,
    /// Nothing in the header says what it is.
    None,
}

/// The best guess for one column.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct ColumnGuess {
    /// Number of the column from the left; the first is 1.
    pub number: usize,
    /// Its header, as written.
    pub header: String,
    /// The log's name for it, in its unit; `None`: no guess.
    pub name: Option<String>,
    /// How sure that is.
    pub sureness: Sureness,
}

/// The best guesses for a whole table.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct ColumnGuesses {
    /// The file's name, as the caller gave it.
    pub source: Arc<str>,
    /// The sheet of a workbook; `None`: the file is a text.
    pub sheet: Option<Arc<str>>,
    /// One a column, from the left.
    pub columns: Vec<ColumnGuess>,
}

/// Guesses what the columns of a log are, whatever its headers are called.
///
/// No two columns get the same name: the one whose header says most of it keeps it, then the
/// first. What was wanted of a dough is not taken for what was read of it. Options say the
/// sheet, and which columns are known already.
///
/// # Errors
///
/// The bytes cannot be read as a table, as a [`Problem`] of the file.
///
/// # Examples
///
/// ```
/// use kneadfit_log::{ReadOptions, Sureness, guess_columns};
///
/// let text = "Nr.;Datum;Mehl kg;Wassertemperatur °C;Raumtemp.;Minuten langsam;Wetter\n";
/// let guesses = guess_columns("mai.csv", text.as_bytes(), &ReadOptions::default())?.columns;
/// let names: Vec<_> = guesses.iter().map(|guess| guess.name.as_deref().unwrap_or("?")).collect();
/// assert_eq!(names, ["batch", "date", "flour_kg", "water_c", "room_c", "minutes_langsam", "?"]);
/// assert_eq!(guesses[2].sureness, Sureness::Likely);
/// assert_eq!(guesses[4].sureness, Sureness::Supposed);
/// # Ok::<(), Box<kneadfit_log::Problem>>(())
/// ```
pub fn guess_columns(
    source: &str,
    input: impl Read,
    options: &ReadOptions,
) -> Result<ColumnGuesses, Box<Problem>> {
    let name: Arc<str> = source.into();
    let cannot = |sheet: Option<Arc<str>>, kind| {
        let (source, severity) = (name.clone(), Severity::Error);
        let (place, batch, column, found) = (None, None, None, None);
        Box::new(Problem { severity, source, sheet, place, batch, column, found, kind })
    };
    let mut table = Source::open(input, options).map_err(|kind| cannot(None, kind))?;
    let sheet = table.sheet();
    let header = table.header(options).map_err(|error| {
        cannot(sheet.clone(), ProblemKind::Unreadable { reason: error.to_string() })
    })?;
    let (header, faults) = header.ok_or_else(|| cannot(sheet.clone(), ProblemKind::EmptyFile))?;
    let too_large = |fault: &HeaderFault| matches!(fault.kind, ProblemKind::TooLarge { .. });
    if let Some(fault) = faults.into_iter().find(too_large) {
        return Err(cannot(sheet, fault.kind));
    }
    let names = header.names.iter().enumerate();
    let mut guesses: Vec<(ColumnGuess, u8)> =
        names.map(|(index, written)| of_header(index + 1, written, &options.columns)).collect();
    // The strongest claim first; a stable order leaves equal ones to the first column.
    let mut order: Vec<usize> = (0..guesses.len()).collect();
    order.sort_by_key(|&index| std::cmp::Reverse(guesses[index].1));
    let mut taken = HashSet::new();
    for index in order {
        let guess = &mut guesses[index].0;
        if quantity(guess).is_some_and(|quantity| !taken.insert(quantity)) {
            (guess.name, guess.sureness) = (None, Sureness::None);
        }
    }
    let columns = guesses.into_iter().map(|(guess, _)| guess).collect();
    Ok(ColumnGuesses { source: name.clone(), sheet, columns })
}

/// How many of a row's cells say what a column of a log could be.
pub(crate) fn telling<'a>(cells: impl Iterator<Item = &'a [u8]>) -> usize {
    let none = ColumnNames::default();
    let says = |text: &str| of_header(1, text, &none).0.sureness != Sureness::None;
    cells.filter_map(as_text).filter(|text| says(text)).count()
}

/// What a guess says the column is, whatever its unit.
fn quantity(guess: &ColumnGuess) -> Option<String> {
    let meaning = names::meaning(guess.name.as_deref()?)?;
    Some(match meaning {
        Meaning::Number(number, _) => number.name().to_owned(),
        Meaning::Minutes(speed, _) => format!("minutes_{speed}"),
        other => other.name(),
    })
}

/// The strength of a name of the log's own, and of one that is nearly spelled.
const KNOWN: u8 = 100;
const SPELLED: u8 = 6;

/// The best guess for a header, and how strong a claim it is.
fn of_header(number: usize, written: &str, own_names: &ColumnNames) -> (ColumnGuess, u8) {
    let guess = |meaning: Option<Meaning>, sureness, strength| {
        let possible = |m: &Meaning| !matches!(m, Meaning::Minutes(s, _) if !is_speed_name(s));
        let name = meaning.filter(possible).map(|m| m.name());
        (ColumnGuess { number, header: written.to_owned(), name, sureness }, strength)
    };
    if let Some(known) = own_names.meaning(written).cloned().or_else(|| names::meaning(written)) {
        return guess(Some(known), Sureness::Known, KNOWN);
    }
    let spelled = || near(written).first().and_then(|name| names::meaning(name));
    match by_words(written) {
        Some(Says::Wanted) => guess(None, Sureness::Wanted, 0),
        Some(Says::Other) => guess(None, Sureness::None, 0),
        Some(Says::Column { meaning, sureness, strength }) => {
            guess(Some(meaning), sureness, strength)
        }
        None => match spelled() {
            Some(meaning) => guess(Some(meaning), Sureness::Likely, SPELLED),
            None => guess(None, Sureness::None, 0),
        },
    }
}

/// Whether a header says that its values were wanted, and not read.
pub(crate) fn is_wanted(written: &str) -> bool {
    matches!(by_words(written), Some(Says::Wanted))
}

/// So many names are near a header at most.
const MOST_NEAR: usize = 3;

/// The log's names that a header may mean: by its words, in both units where it says none,
/// then those that are spelled nearly so.
pub(crate) fn near_names(written: &str) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    match by_words(written) {
        Some(Says::Wanted | Says::Other) => return found,
        Some(Says::Column { meaning, sureness, .. }) => {
            let name = meaning.name();
            if sureness == Sureness::Supposed
                && let Some(stem) = name.strip_suffix("_c")
            {
                found.push(name.clone());
                found.push(format!("{stem}_f"));
            } else if !matches!(&meaning, Meaning::Minutes(s, _) if !is_speed_name(s)) {
                found.push(name);
            }
        }
        None => {}
    }
    for name in near(written) {
        if !found.contains(&name) {
            found.push(name);
        }
    }
    found.truncate(MOST_NEAR);
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn guesses(text: &str) -> Vec<String> {
        let guesses = guess_columns("k.csv", text.as_bytes(), &ReadOptions::default()).unwrap();
        guesses.columns.into_iter().map(|guess| guess.name.unwrap_or_else(|| "?".into())).collect()
    }

    #[test]
    fn headers_of_several_countries() {
        assert_eq!(
            guesses(
                "Batch no,Flour (lb),Flour temp F,Water (oz),Water temp,Dough temp °F,Time low speed\n"
            ),
            ["batch", "flour_lb", "flour_f", "water_oz", "water_c", "dough_f", "minutes_low_speed"]
        );
        assert_eq!(
            guesses("Fournée;Farine (kg);Eau (g);Température pâte;Fournil;Repos min;Météo\n"),
            ["batch", "flour_kg", "water_g", "dough_c", "room_c", "minutes_rest", "?"]
        );
        assert_eq!(
            guesses("Lotto|Farina kg|Acqua °C|Sale g|Ambiente|Sviluppo %|flour_kg\n"),
            ["batch", "?", "water_c", "salt_g", "room_c", "development_percent", "flour_kg"]
        );
    }

    /// Each header alone.
    #[test]
    fn ordinary_headers_are_known() {
        for (headers, name) in [
            (
                "Teig-Nr.|Nr.|Numéro|Numero|Número|N°|Nº|Batch #|Batch ID|Charge|Fournée|Lotto|Ansatz|Lfd. Nr.",
                "batch",
            ),
            ("Mehltyp|Mehlsorte|Flour type|Type de farine|Tipo di farina|Tipo de harina", "flour"),
            ("Mehl|Farine|Farina|Harina|Mehlmenge|Poids farine", "flour_kg"),
            (
                "Température de l'eau|Temp. de l’eau|Temperatura agua|Wassertemperatur|Temperatura dell'acqua",
                "water_c",
            ),
            ("Water °F|Water temp (F)", "water_f"),
            (
                "Teig|Impasto|Temp. pâte|Teigtemperatur|Masa °C|Endtemperatur Teig|Final temp|Teigtemp. Ende",
                "dough_c",
            ),
            (
                "Raumtemperatur|Temperatura ambiente|Raum|Fournil|T° fournil|Ambient temp|Küche|Umgebungstemp.",
                "room_c",
            ),
            ("Gang 1 min|Gang 1", "minutes_gang_1"),
            ("1. Gang", "minutes_1_gang"),
            ("Stufe 2", "minutes_stufe_2"),
            ("Langsam|Zeit langsam", "minutes_langsam"),
            ("Schnell", "minutes_schnell"),
            ("Vitesse 1|Temps vitesse 1", "minutes_vitesse_1"),
            ("1st speed", "minutes_1st_speed"),
            ("Velocità 2", "minutes_velocità_2"),
            ("Seconda velocità", "minutes_seconda_velocità"),
            ("Second speed|Second speed (min)", "minutes_second_speed"),
            ("Speed 1 (sec)", "seconds_speed_1"),
            ("Knetzeit", "minutes_knetzeit"),
            ("Mixing time", "minutes_mixing"),
            ("Teigruhe|Ruhe min|Repos|Autolyse", "minutes_rest"),
            ("Teigentwicklung|Kleberentwicklung", "development"),
            ("Kneter|Kneter Nr.|Pétrin", "machine"),
            ("Salz g|Sel (g)", "salt_g"),
            // Nothing that a log has.
            (
                "Teigmenge|Dough kg|Teiggewicht|Dough name|Teigsorte|Drehzahl Gang 1|Gang 1 U/min|Temp. Gang 1|Uhrzeit|Wetter|Charge kg",
                "?",
            ),
        ] {
            for header in headers.split('|') {
                let found = near_name(header);
                assert_eq!(found.name.as_deref().unwrap_or("?"), name, "{header}");
            }
        }
    }

    fn near_name(header: &str) -> ColumnGuess {
        of_header(1, header, &ColumnNames::default()).0
    }

    #[test]
    fn what_was_wanted_is_never_a_reading() {
        for header in "Teig Soll|Solltemperatur|Teigtemp.-Soll|TeigtempSoll|Zieltemperatur|Wunschtemp. Teig|\
                       Target dough temp|Dough temp target|Wanted °C|Planned water kg|Desired dough temperature|\
                       Température voulue|Consigne pâte|T° cible|Température souhaitée|Temperatura desiderata|\
                       Temp. prevista impasto|Temperatura objetivo|Masa deseada °C|Temp plan|DDT"
            .split('|')
        {
            let guess = near_name(header);
            assert_eq!((guess.name, guess.sureness), (None, Sureness::Wanted), "{header}");
            assert!(is_wanted(header));
        }
        assert_eq!(guesses("Nr;Raum;Teig Soll;Teig Ist;Mehl\n")[2..4], ["?", "dough_c"]);
        assert_eq!(guesses("no,room,dough wanted,dough actual\n")[2..], ["?", "dough_c"]);
        // Nothing of this is about a wish.
        for header in ["Planetary minutes", "Speziell", "Knetplanet"] {
            assert!(!is_wanted(header), "{header}");
        }
    }

    #[test]
    fn a_poor_claim_does_not_stand_in_the_way_of_a_better_one() {
        assert_eq!(
            guesses("Teig;Teig-Nr.;Mehltyp;Mehl;Teigtemp.;Wasser;Wasser kg;Raum\n"),
            ["?", "batch", "flour", "flour_kg", "dough_c", "?", "water_kg", "room_c"]
        );
        assert_eq!(guesses("Nr.;Charge;Datum;Raum\n")[..2], ["?", "batch"]);
        assert_eq!(guesses("Temp nach Gang 1 Teig;Teig Ende °C;Raum\n")[..2], ["?", "dough_c"]);
    }

    #[test]
    fn what_is_missing_is_said() {
        let missing = |text: &str| {
            guess_columns("k.csv", text.as_bytes(), &ReadOptions::default()).unwrap().missing()
        };
        assert_eq!(
            missing("Nr;Mehl kg;Wasser kg;Ruhe min\n"),
            ["flour_c", "water_c", "room_c", "dough_c", "minutes_low"]
        );
        let full = "batch,flour_lb,flour_f,water_g,water_c,room_f,dough_f,seconds_2\n";
        assert_eq!(missing(full), Vec::<&str>::new());
    }

    #[test]
    fn near_names_are_by_words_and_by_letters() {
        assert_eq!(near_names("Wassertemp."), ["water_c", "water_f"]);
        assert_eq!(near_names("Flour (lb)"), ["flour_lb"]);
        assert_eq!(near_names("watr_c"), ["water_c", "water_f", "water_g"]);
        assert_eq!(near_names("Langsam"), ["minutes_langsam"]);
        assert_eq!(near_names("colour of the sky"), Vec::<String>::new());
        assert_eq!(near_names("Teig Soll"), Vec::<String>::new());
    }

    #[test]
    fn a_kind_of_flour_is_no_mass_of_it() {
        assert_eq!(
            guesses("Nr;Mehlsorte;Mehl kg;Mehl °C\nFlour type\n"),
            ["batch", "flour", "flour_kg", "flour_c"]
        );
        assert_eq!(
            guesses("batch,type of flour,farina tipo,Flour type (g)\n")[1..],
            ["flour", "?", "flour_g"]
        );
    }

    #[test]
    fn a_header_in_other_words_is_found_under_a_title() {
        assert_eq!(
            guesses("Knetprotokoll Mai\n\nNr;Mehl kg;Backstube;Teig\n1;9,5;22;24\n"),
            ["batch", "flour_kg", "room_c", "dough_c"]
        );
    }

    #[test]
    fn nothing_is_guessed_from_nothing() {
        assert_eq!(guesses("Selbstkosten,weather,x\n"), ["?", "?", "?"]);
        assert!(guess_columns("k.csv", &b""[..], &ReadOptions::default()).is_err());
    }
}
