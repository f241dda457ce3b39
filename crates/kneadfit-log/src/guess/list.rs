//! Guesses as a list of columns in TOML, each marked for the baker to confirm.

use std::fmt::Write;

use super::{ColumnGuess, ColumnGuesses, Sureness};
use crate::column_list::{key, quoted};
use crate::problem::ColumnRef;

/// Columns without which no row can be used.
const NEEDED: [(&str, &str); 2] =
    [("batch", "the batch's name or number"), ("room_c", "the room's temperature")];

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
        let is_there = |name: &str| self.columns.iter().any(|c| quantity_is(c, name));
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
                (None, false) => writeln!(
                    list,
                    "# {letters}, {header}: not known, and not read unless a line says what it is"
                ),
                // What has no header cannot be named by it.
                (_, true) => writeln!(list, "# {letters}: a column without a header, not read"),
            };
        }
        for (name, what) in NEEDED.into_iter().filter(|(name, _)| !is_there(name)) {
            let _ = writeln!(
                list,
                "\n# Needed, and not found: which column has {what}?\n# {name} = \"\""
            );
        }
        list
    }
}

/// Whether a guess is of the quantity of this name, in whatever unit.
fn quantity_is(guess: &ColumnGuess, name: &str) -> bool {
    super::quantity(guess).is_some_and(|quantity| quantity == name)
}

fn mark(sureness: Sureness, name: &str) -> String {
    let what = match sureness {
        Sureness::Known => return String::new(),
        Sureness::Supposed if name.ends_with("_c") => "a guess, and °C is supposed",
        Sureness::Supposed if name.ends_with("_kg") => "a guess, and kg are supposed",
        Sureness::Supposed if name.contains("minutes_") => {
            "a guess, and minutes are supposed; name the speed as you like"
        }
        _ => "a guess",
    };
    format!(": {what} – confirm")
}
