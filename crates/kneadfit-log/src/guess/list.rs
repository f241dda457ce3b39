//! Guesses as a list of columns in TOML, each marked for the baker to confirm.

use std::fmt::Write;

use kneadfit::charge::REST;

use super::{ColumnGuesses, Sureness};
use crate::column_list::{key, quoted};
use crate::columns::MINUTES_PREFIX;
use crate::problem::ColumnRef;

/// Columns that every log of doughs needs, and what each holds.
const NEEDED: [(&str, &str); 7] = [
    ("batch", "the batch's name or number"),
    ("flour_kg", "the mass of the flour"),
    ("flour_c", "the temperature of the flour"),
    ("water_kg", "the mass of the water"),
    ("water_c", "the temperature of the water"),
    ("room_c", "the room's temperature"),
    ("dough_c", "the dough's temperature as it was read"),
];

impl ColumnGuesses {
    /// The guesses as a list that [`ColumnNames::parse`](crate::ColumnNames::parse) reads.
    ///
    /// What is a guess is marked as one, behind its line; columns of which nothing is known,
    /// and those that every log needs and no column seems to be, stand there as remarks.
    ///
    /// # Examples
    ///
    /// ```
    /// use kneadfit_log::{ColumnNames, ReadOptions, guess_columns};
    ///
    /// let text = "Nr.;Mehl kg;Teigtemp.;Wetter\n";
    /// let guesses = guess_columns("mai.csv", text.as_bytes(), &ReadOptions::default())?;
    /// let list = guesses.to_toml();
    /// assert!(list.contains("flour_kg = \"Mehl kg\"  # B: a guess"));
    /// assert!(list.contains("# D, \"Wetter\": not known"));
    /// assert!(list.contains("# room_c = "));
    /// assert!(ColumnNames::parse(&list).is_ok());
    /// # Ok::<(), Box<kneadfit_log::Problem>>(())
    /// ```
    pub fn to_toml(&self) -> String {
        let mut list = String::new();
        let sheet = self.sheet.as_ref().map(|sheet| format!(", sheet {}", quoted(sheet)));
        let source = quoted(&self.source);
        // Writing into a string does not fail.
        let _ = writeln!(
            list,
            "# What the columns of {source}{} most likely are: the log's name = the header in\n\
             # the table. Confirm or mend each line that is marked as a guess, then give this\n\
             # file with --columns.\n",
            sheet.unwrap_or_default()
        );
        for guess in &self.columns {
            let place = ColumnRef { name: "".into(), number: guess.number, meaning: "".into() };
            let letters = place.letters();
            let header = quoted(&guess.header);
            let _ = match (&guess.name, guess.header.trim().is_empty()) {
                (Some(name), false) => {
                    let name = key(name);
                    let mark = mark(guess.sureness, &name);
                    writeln!(list, "{name} = {header}  # {letters}{mark}")
                }
                (None, false) if guess.sureness == Sureness::Wanted => writeln!(
                    list,
                    "# {letters}, {header}: looks like a wanted value, and no reading; not read"
                ),
                (None, false) => writeln!(
                    list,
                    "# {letters}, {header}: not known, and not read unless a line says what it is"
                ),
                // What has no header cannot be named by it.
                (_, true) => writeln!(list, "# {letters}: a column without a header, not read"),
            };
        }
        let missing = self.missing();
        if !missing.is_empty() {
            list.push_str(
                "\n# Needed, and not found: write a header behind each and take the # away.\n",
            );
        }
        for name in missing {
            let what = NEEDED.iter().find(|(needed, _)| *needed == name);
            let what = what.map_or("the minutes at a speed, one line each", |(_, what)| what);
            let _ = writeln!(list, "# {name} = \"\"  # {what}");
        }
        list
    }

    /// What a log of doughs needs and no column seems to be, by the log's names in its own
    /// units; `minutes_low` stands for the minutes at any speed.
    pub fn missing(&self) -> Vec<&'static str> {
        let quantities: Vec<String> = self.columns.iter().filter_map(super::quantity).collect();
        let is_there = |name: &&str| quantities.iter().any(|quantity| quantity == name);
        let mixed = |quantity: &String| {
            quantity.strip_prefix(MINUTES_PREFIX).is_some_and(|speed| speed != REST)
        };
        let minutes = (!quantities.iter().any(mixed)).then_some("minutes_low");
        NEEDED.iter().map(|(name, _)| *name).filter(|name| !is_there(name)).chain(minutes).collect()
    }
}

fn mark(sureness: Sureness, name: &str) -> String {
    let what = match sureness {
        Sureness::Known => return String::new(),
        Sureness::Supposed if name.ends_with("_c") => "a guess, and °C is supposed",
        Sureness::Supposed if name.ends_with("_kg") => "a guess, and kg are supposed",
        Sureness::Supposed if name == "minutes_rest" => "a guess, and minutes are supposed",
        Sureness::Supposed if name.contains("minutes_") => {
            "a guess, and minutes are supposed; name the speed as you like"
        }
        _ => "a guess",
    };
    format!(": {what} – confirm")
}
