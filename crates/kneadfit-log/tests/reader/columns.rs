//! Lists of columns written from a table, read back.

use kneadfit_log::{ColumnGuesses, ColumnNames, ReadOptions, Sureness, guess_columns, read_log};
use proptest::prelude::*;

fn guesses(text: &str) -> ColumnGuesses {
    guess_columns("mai.csv", text.as_bytes(), &ReadOptions::default()).unwrap()
}

const GERMAN: &str = "Knetprotokoll Mai\n\n\
    Charge;Mehl kg;Mehltemp.;Wasser kg;Wassertemp.;Salz g;Backstube;Gang 1 min;Teigtemp.;Wetter\n\
    1;10;20;6,5;12;200;22;4;19,8;Regen\n";

#[test]
fn the_list_reads_the_table_that_it_was_written_from() {
    let list = guesses(GERMAN).to_toml();
    for line in [
        "batch = \"Charge\"  # A: a guess – confirm",
        "flour_kg = \"Mehl kg\"  # B: a guess – confirm",
        "flour_c = \"Mehltemp.\"  # C: a guess, and °C is supposed – confirm",
        "salt_g = \"Salz g\"  # F: a guess – confirm",
        "minutes_gang_1 = \"Gang 1 min\"  # H: a guess, and minutes are supposed; name the speed as you like – confirm",
        "# J, \"Wetter\": not known, and not read unless a line says what it is",
    ] {
        assert!(list.lines().any(|l| l == line), "{line:?} is not in\n{list}");
    }
    let options = ReadOptions::default().with_columns(ColumnNames::parse(&list).unwrap());
    let read = read_log("mai.csv", "spiral", GERMAN.as_bytes(), &options);
    assert_eq!(read.rows_used(), 1);
    let batch = &read.machines[0].log.batches[0];
    assert_eq!(batch.charge.ingredients[2].mass_kg, 0.2);
    assert_eq!((batch.charge.room_c, batch.stages[0].phases[0].minutes), (22.0, 4.0));
    // All that is left to say is the column that nothing is known of.
    assert_eq!(read.problems.len(), 1);
}

#[test]
fn a_canonical_log_has_no_guess_and_a_bare_table_is_told_what_is_missing() {
    let known = guesses("batch,flour_kg,room_c,minutes_low,dough_c\n1,1,1,1,1\n");
    assert!(known.columns.iter().all(|column| column.sureness == Sureness::Known));
    assert!(!known.to_toml().contains("confirm\n"), "{}", known.to_toml());
    let bare = guesses("Mehl kg;Wasser kg\n1;2\n").to_toml();
    for name in ["batch", "room_c"] {
        assert!(bare.contains(&format!("# {name} = \"\"")), "{bare}");
    }
}

proptest! {
    #[test]
    fn any_header_makes_a_list_that_can_be_read(
        headers in prop::collection::vec(
            prop_oneof![
                any::<String>(),
                "[A-Za-z_ °\"\\\\\n\t\u{7}\u{85}]{0,12}",
                prop::sample::select(vec![
                    "minutes_ low", "minutes_", "seconds_a\u{7}b", "Mehl", "MEHL ", "flour_kg",
                    "Flour KG", "Zeit \u{7} min", "Teig °F", "batch", "minutes_Üb er",
                ]).prop_map(str::to_owned),
            ],
            1..8,
        )
    ) {
        let mut writer = csv::Writer::from_writer(Vec::new());
        writer.write_record(&headers).unwrap();
        let bytes = writer.into_inner().unwrap();
        let Ok(guesses) = guess_columns("k.csv", &bytes[..], &ReadOptions::default()) else {
            return Ok(());
        };
        let list = guesses.to_toml();
        let read = ColumnNames::parse(&list);
        prop_assert!(read.is_ok(), "{}\n{list}", read.unwrap_err());
    }
}
