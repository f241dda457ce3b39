//! A log read in pieces is the log read row by row, to the bit and to the last problem.

use std::io::{self, Read};

use proptest::collection::vec;
use proptest::prelude::*;
use proptest::sample::select;

use crate::read::LogReader;
use crate::{LogRead, ReadOptions};

const HEADER: &str = "batch,machine,date,flour,flour_kg,flour_c,water_kg,water_c,ice_kg,room_c,\
                      minutes_low,minutes_rest,minutes_high,dough_c,development,note";

/// No text is as long.
const ROW_BY_ROW: usize = usize::MAX;

fn read(bytes: &[u8], options: &ReadOptions, piece_bytes: usize) -> LogRead {
    let mut reader = LogReader::new(options.clone()).in_pieces_of(piece_bytes);
    // A second file: what is known of the first must not matter, and what is counted goes on.
    reader.read("may.csv", "spiral", bytes);
    reader.read("june.csv", "spiral", Dripping(bytes));
    reader.finish()
}

/// Hands out a few bytes a call.
struct Dripping<'a>(&'a [u8]);

impl Read for Dripping<'_> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let few = into.len().min(7);
        self.0.read(&mut into[..few])
    }
}

/// Reads in pieces of several sizes on one thread and on several; each must be as row by row.
fn hold(bytes: &[u8], options: &ReadOptions) {
    let expected = read(bytes, options, ROW_BY_ROW);
    for (threads, piece_bytes) in [(1, 1), (1, 90), (3, 1), (3, 60), (3, 300), (2, 1500)] {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let found = pool.install(|| read(bytes, options, piece_bytes));
        let text = String::from_utf8_lossy(bytes);
        // Debug tells −0 from 0, too.
        if found != expected || format!("{found:?}") != format!("{expected:?}") {
            for (found, expected) in found.rows.iter().zip(&expected.rows) {
                assert_eq!(found, expected, "{threads} threads, {piece_bytes} bytes: {text}");
            }
            assert_eq!(found.problems, expected.problems, "{piece_bytes} bytes: {text}");
            assert_eq!(found, expected, "{threads} threads, {piece_bytes} bytes: {text}");
        }
    }
}

/// A row, of a batch of few names so that they meet again in other pieces.
fn row() -> impl Strategy<Value = String> {
    let name = select(vec!["1", "2", "3", "4", "5", "a 6", "'=7", ""]);
    let machine = select(vec!["", "", "spiral", "fork"]);
    let date = select(vec!["", "2026-03-14", "2026-03-15", "2026-02-30"]);
    let whole = (name.clone(), machine.clone(), date, 0_u8..40, 0_u8..20).prop_map(
        |(name, machine, date, tenth, fault)| {
            let (flour, room) = (if fault == 0 { "cold" } else { "10" }, 20 + tenth / 10);
            let water = if fault == 1 { "30" } else { "6.5" };
            let rest = if fault == 2 { ",,," } else { "" };
            let note = match fault {
                3 => "\"said, \"\"so\"\"\nand more\"",
                4 => "\"\r\n\r\n\"",
                5 => "a \"loose\" quote",
                _ => "",
            };
            let low = if fault == 6 { "400" } else { "4" };
            format!(
                "{name},{machine},{date},strong,{flour},20.{tenth},{water},11,,{room},{low},,\
                 1.{tenth},{room}.5,0.{tenth},{note}{rest}"
            )
        },
    );
    let later = (name, machine, 4_u8..9, 0_u8..9).prop_map(|(name, machine, low, high)| {
        format!("{name},{machine},,,,,,,,,{low},,{high}.3,24.{high},,")
    });
    let other = select(vec![
        HEADER,
        "",
        " ,,",
        "example (not read),,,,10,20,6,11,,20,4,,,24,,",
        "\u{feff}8,,,,10,20,6,11,,20,4,,,24,,",
        "9,,,,10,20,6,11",
        "10,,,,10,20,6,11,1.5,20,4,,0,24,,",
    ]);
    prop_oneof![8 => whole, 6 => later, 2 => other.prop_map(String::from)]
}

/// A row of another dress, from which on all rows are looked at together.
fn dressed() -> impl Strategy<Value = String> {
    select(vec![
        "11,,,,10,20,\"6,5\",11,,20,4,,,24,,".to_owned(),
        "11,,14/03/2026,,10,20,6.5,11,,20,4,,,24,,".to_owned(),
        "Total,,,,10,20,6.5,11,,20,4,,,24,,".to_owned(),
        "11,,,,ten,20,6.5,11,,20,4,,,24,,".to_owned(),
        "11,\"never closed".to_owned(),
    ])
}

fn log() -> impl Strategy<Value = Vec<u8>> {
    let ends = select(vec!["\n", "\n", "\r\n", "\r", "\n\n"]);
    let row = prop_oneof![60 => row(), 1 => dressed()];
    (vec((row, ends.clone()), 0..60), ends, any::<bool>()).prop_map(|(rows, end, ended)| {
        let mut text = format!("{HEADER}{end}");
        for (row, end) in &rows {
            text.push_str(row);
            text.push_str(end);
        }
        if !ended {
            text.truncate(text.trim_end().len());
        }
        text.into_bytes()
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn a_log_in_pieces_is_the_log(bytes in log()) {
        hold(&bytes, &ReadOptions::default());
    }

    #[test]
    fn so_it_is_with_options(bytes in log(), which in 0..5) {
        let options = ReadOptions::default().with_notes();
        hold(&bytes, &match which {
            0 => options.only_machine("fork"),
            1 => options.since(jiff::civil::date(2026, 3, 15)),
            2 => options.with_speeds("spiral", ["low"]),
            3 => ReadOptions::forecasting(),
            _ => ReadOptions::planning(),
        });
    }

    #[test]
    fn so_it_is_of_any_bytes(
        rows in vec(prop_oneof![
            select(vec![&b"1,2,3"[..], b",", b"\"", b"\n", b"\r", b"\r\n", b"\xFF", b"a"]).prop_map(<[u8]>::to_vec),
            vec(any::<u8>(), 0..4),
        ], 0..120)
    ) {
        let bytes = [b"batch,room_c,note\n".as_slice(), &rows.concat()].concat();
        hold(&bytes, &ReadOptions::default());
    }
}

/// Breaks off in the middle.
struct Broken<'a>(&'a [u8]);

impl Read for Broken<'_> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        match self.0.read(into)? {
            0 => Err(io::Error::other("the disk is gone")),
            count => Ok(count),
        }
    }
}

/// Rows that are no batch again, in a text beyond what is looked at.
#[test]
fn a_stream_beyond_what_is_looked_at_is_read_to_its_end_or_to_where_it_breaks_off() {
    let mut text = format!("{HEADER}\n");
    let mut row = 0;
    while text.len() < crate::limits::LOOKED_AT_BYTES + 300_000 {
        let note = if row % 1000 == 0 { "\"a, b\"" } else { "" };
        text += &format!("{row},,,,10,20.5,6.5,11,,20,4,,1,22.{row},0.5,{note}\n");
        text += &format!("{},,,,,,,,,,5,,2,23,,\n", row - row % 7);
        row += 1;
    }
    let read = |piece_bytes, broken: bool| {
        let mut reader = LogReader::new(ReadOptions::default()).in_pieces_of(piece_bytes);
        let cut = &text.as_bytes()[..text.len() - 10];
        match broken {
            true => reader.read("may.csv", "spiral", Broken(cut)),
            false => reader.read("may.csv", "spiral", cut),
        }
        reader.finish()
    };
    for broken in [false, true] {
        let (whole, pieces) = (read(ROW_BY_ROW, broken), read(100_000, broken));
        assert!(whole.rows == pieces.rows, "rows");
        assert!(whole.problems == pieces.problems, "problems");
        assert!(whole == pieces);
    }
}
