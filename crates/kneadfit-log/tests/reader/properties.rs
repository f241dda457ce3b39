//! What holds whatever the bytes.

use kneadfit::batch::validate;
use kneadfit_log::summary::Summary;
use kneadfit_log::{LogRead, Purpose, ReadOptions, read_log};
use proptest::prelude::*;

use crate::support::assert_accounted;

/// No panic, every row somewhere, every kept batch one that the core takes.
fn assert_sound(bytes: &[u8], options: &ReadOptions) -> LogRead {
    let read = read_log("kitchen.csv", "spiral", bytes, options);
    assert_accounted(&read);
    let planning = options.purpose == Purpose::Planning;
    assert_eq!(read.gaps.len(), if planning { read.rows.len() } else { 0 });
    for machine in &read.machines {
        for batch in machine.batches() {
            validate(batch, &machine.log.speeds).unwrap();
        }
        assert!(!Summary::of(&machine.log).to_string().is_empty());
    }
    read
}

/// Cells that a log has, or ought not to have.
fn cell() -> impl Strategy<Value = String> {
    prop_oneof![
        3 => (0_u32..300).prop_map(|n| format!("{}", f64::from(n) / 10.0)),
        1 => any::<f64>().prop_map(|x| x.to_string()),
        2 => Just(String::new()),
        1 => prop::sample::select(vec![
            "NaN", "inf", "-1", "4,5", "\"4,5\"", "\"a\nb\"", "2026-03-14", "75", "1", "2", "\"",
            "spiral", " ", "1e308", "é", "0", "0.65", "4:30", "0:04:30", "4'30", "14/03/2026",
            "03/04/26", "85 %", "Total", "1'250", "1\u{a0}250", "6.5.", "12:00:00 AM",
        ])
        .prop_map(str::to_owned),
    ]
}

const COLUMNS: [&str; 27] = [
    "batch",
    "machine",
    "date",
    "flour",
    "flour_kg",
    "flour_c",
    "water_kg",
    "water_c",
    "ice_kg",
    "ice_c",
    "preferment_kg",
    "preferment_c",
    "preferment_hydration",
    "salt_kg",
    "sugar_kg",
    "fat_kg",
    "other_kg",
    "other_c",
    "other_kj_per_kg_k",
    "room_c",
    "bowl_c",
    "minutes_low",
    "minutes_rest",
    "minutes_high",
    "dough_c",
    "development",
    "note",
];

/// A log of known columns with any cells in it.
fn any_log() -> impl Strategy<Value = String> {
    let columns = prop::sample::subsequence(COLUMNS.to_vec(), 1..COLUMNS.len()).prop_shuffle();
    columns.prop_flat_map(|mut columns| {
        for needed in ["batch", "room_c"] {
            if !columns.contains(&needed) {
                columns.push(needed);
            }
        }
        let row = prop::collection::vec(cell(), columns.len());
        prop::collection::vec(row, 0..20).prop_map(move |rows| {
            let rows: Vec<String> = rows.iter().map(|row| row.join(",")).collect();
            format!("{}\n{}\n", columns.join(","), rows.join("\n"))
        })
    })
}

/// A good log of some batches with two readings each.
fn good_log(batches: usize) -> String {
    let mut text = "batch,date,flour_kg,flour_c,water_kg,water_c,room_c,minutes_low,minutes_high,dough_c,development\n"
        .to_owned();
    for k in 0..batches {
        // No two batches weigh the same: copies would be doubted.
        let flour_kg = 10.0 + k as f64 / 1000.0;
        text +=
            &format!("{k},2026-03-14,{flour_kg},21,6.5,12,24,4,,19.8,\n{k},,,,,,,4,6.5,24.1,0.8\n");
    }
    text
}

proptest! {
    #[test]
    fn any_bytes_are_answered(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        assert_sound(&bytes, &ReadOptions::default());
    }

    #[test]
    fn any_bytes_under_a_header_are_answered(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        let mut text = b"batch,flour_kg,room_c,minutes_a,dough_c\n".to_vec();
        text.extend(bytes);
        assert_sound(&text, &ReadOptions::forecasting());
    }

    #[test]
    fn any_cells_are_answered(text in any_log(), purpose in 0..3, span: bool) {
        let mut options = match purpose {
            0 => ReadOptions::default(),
            1 => ReadOptions::forecasting(),
            _ => ReadOptions::planning(),
        };
        if span {
            options = options.since(jiff::civil::date(2026, 3, 14));
        }
        let read = assert_sound(text.as_bytes(), &options);
        // Set aside never goes unsaid.
        prop_assert_eq!(read.rows_set_aside() > 0 || !read.has_errors() || read.rows_read() == 0, true);
    }

    #[test]
    fn any_cells_in_any_dress_are_answered(
        text in any_log(),
        separator in prop::sample::select(vec![",", ";", "\t", "|"]),
        units: bool,
        wide: bool,
        title: bool,
    ) {
        let (header, rows) = text.split_once('\n').unwrap();
        let header = match units {
            true => header.replace("_kg,", "_oz,").replace("_c,", "_f,").replace("minutes_", "seconds_"),
            false => header.to_owned(),
        };
        let title = if title { "A kitchen's log\n\n" } else { "" };
        let text = format!("{title}{header}\n{rows}").replace(',', separator);
        match wide {
            true => {
                let units: Vec<u8> = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
                assert_sound(&units, &ReadOptions::default());
            }
            false => { assert_sound(text.as_bytes(), &ReadOptions::default()); }
        }
    }

    #[test]
    fn a_mutated_log_is_answered(
        at in 0.0_f64..1.0,
        mutation in prop::sample::select(vec!["delete", "double", "quote", "byte", "comma", "cut"]),
        byte: u8,
    ) {
        let mut bytes = good_log(6).into_bytes();
        let at = (at * bytes.len() as f64) as usize;
        match mutation {
            "delete" => { bytes.remove(at); }
            "double" => { let byte = bytes[at]; bytes.insert(at, byte); }
            "quote" => bytes.insert(at, b'"'),
            "byte" => bytes[at] = byte,
            "comma" => bytes.insert(at, b','),
            _ => bytes.truncate(at),
        }
        assert_sound(&bytes, &ReadOptions::default());
    }
}

#[test]
fn a_clean_log_raises_no_doubt() {
    let read = assert_sound(good_log(1000).as_bytes(), &ReadOptions::default());
    assert!(read.problems.is_empty());
    assert_eq!((read.rows_used(), read.machines[0].batches().len()), (2000, 1000));
}
