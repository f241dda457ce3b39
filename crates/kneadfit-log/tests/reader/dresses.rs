//! One log in many dresses: whatever the table looks like, the batches are the same.

use kneadfit::batch::BatchLog;
use kneadfit_log::{ColumnNames, LogRead, ReadOptions, StageScale, read_log};

use crate::support::assert_accounted;

/// The log in its canonical dress: an invented kitchen.
pub const CANONICAL: &str = "\
batch,machine,date,flour,flour_kg,flour_c,water_kg,water_c,salt_kg,room_c,minutes_low,minutes_high,minutes_rest,dough_c,development,note
1,spiral,2026-03-14,strong,10,19.5,6.5,12,0.2,22,4,6.5,,24.1,0.85,
2,spiral,2026-03-03,strong,10.25,19,6.625,12.5,0.2,21.5,9,2.5,,22.6,0.6,warm bowl
3,spiral,2026-04-05,strong,5,19.5,3.25,12,0.1,22,1,,,17.9,,
3,spiral,,,,,,,,,4,6.5,,24,0.85,
3,spiral,,,,,,,,,4,6.5,25,23.8,0.9,
4,spiral,2026-03-30,strong,12.5,19.5,8.125,12,0.25,22,4,6.25,,24.1,0.85,ältere Probe
";

/// The cells of the canonical log.
pub fn cells() -> Vec<Vec<String>> {
    CANONICAL.lines().map(|line| line.split(',').map(str::to_owned).collect()).collect()
}

/// The log with each cell changed by its header, under another header, parted by something.
fn dressed(
    separator: &str,
    header: impl Fn(&str) -> String,
    cell: impl Fn(&str, &str) -> String,
) -> String {
    let rows = cells();
    let mut text = rows[0].iter().map(|name| header(name)).collect::<Vec<_>>().join(separator);
    for row in &rows[1..] {
        let row: Vec<String> = row
            .iter()
            .zip(&rows[0])
            .map(|(value, name)| if value.is_empty() { String::new() } else { cell(name, value) })
            .collect();
        text += "\n";
        text += &row.join(separator);
    }
    text + "\n"
}

fn read_bytes(bytes: &[u8], options: &ReadOptions) -> LogRead {
    let read = read_log("kitchen", "spiral", bytes, options);
    assert_accounted(&read);
    read
}

pub fn expected() -> BatchLog {
    let read = read_bytes(CANONICAL.as_bytes(), &ReadOptions::default());
    assert!(read.problems.is_empty() && read.dialects[0].notes.is_empty());
    assert_eq!(read.rows_used(), 6);
    read.machines[0].log.clone()
}

/// Reads a dress and holds it against the canonical log, to the bit.
pub fn assert_same(dress: &str, bytes: &[u8], options: &ReadOptions) -> LogRead {
    let read = read_bytes(bytes, options);
    let said: Vec<String> = read.problems.iter().map(ToString::to_string).collect();
    assert!(said.is_empty(), "{dress}: {said:#?}");
    assert_eq!(read.machines.len(), 1, "{dress}");
    assert_eq!(read.machines[0].log, expected(), "{dress}");
    read
}

fn is_number(name: &str) -> bool {
    name.contains("_kg")
        || name.ends_with("_c")
        || name.starts_with("minutes")
        || name == "development"
}

fn with_comma(name: &str, value: &str) -> String {
    if is_number(name) { value.replace('.', ",") } else { value.to_owned() }
}

fn as_is(name: &str) -> String {
    name.to_owned()
}

/// A day as `2026-03-14` in another order.
fn day(value: &str, separator: &str, month_first: bool) -> String {
    let (year, month, day) = (&value[..4], &value[5..7], &value[8..]);
    let [first, second] = if month_first { [month, day] } else { [day, month] };
    [first, second, year].join(separator)
}

#[test]
fn separators_and_decimal_commas() {
    let options = ReadOptions::default();
    for separator in [";", "\t", "|"] {
        for marked in [false, true] {
            let text = dressed(separator, as_is, |name, value| {
                if marked { with_comma(name, value) } else { value.to_owned() }
            });
            let read = assert_same(separator, text.as_bytes(), &options);
            let notes = &read.dialects[0].notes;
            assert_eq!(notes.len(), 1 + usize::from(marked), "{notes:?}");
        }
    }
    let quoted = dressed(",", as_is, |name, value| format!("\"{}\"", with_comma(name, value)));
    assert_same("quoted decimal commas", quoted.as_bytes(), &options);
}

#[test]
fn encodings_and_line_ends() {
    let options = ReadOptions::default();
    let text = CANONICAL.to_owned();
    for (dress, text) in [
        ("mark", format!("\u{feff}{text}")),
        ("CRLF", text.replace('\n', "\r\n")),
        ("blank lines", text.replace('\n', "\n\n , ,\n\r\n")),
    ] {
        let text = text.replace(" , ,\n", &format!("{}\n", ",".repeat(15)));
        assert_same(dress, text.as_bytes(), &options);
    }
    let western: Vec<u8> = text.chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect();
    assert_same("Windows-1252", &western, &options);
    for text in [text.clone(), format!("\u{feff}{}", text.replace('\n', "\r\n"))] {
        let units: Vec<u16> = text.encode_utf16().collect();
        let le: Vec<u8> = units.iter().flat_map(|unit| unit.to_le_bytes()).collect();
        let be: Vec<u8> = units.iter().flat_map(|unit| unit.to_be_bytes()).collect();
        let read = assert_same("UTF-16 LE", &le, &options);
        assert_eq!(read.dialects[0].notes[0].to_string(), "the text is in UTF-16");
        assert_same("UTF-16 BE", &be, &options);
    }
}

#[test]
fn titles_above_and_totals_below() {
    let options = ReadOptions::default();
    let rows = cells();
    let width = rows[0].len();
    let below = |first: &str, numbers: &[(usize, &str)]| {
        let mut row = vec![String::new(); width];
        row[0] = first.to_owned();
        for (column, value) in numbers {
            row[*column] = (*value).to_owned();
        }
        row.join(",")
    };
    // Sums of flour and water over all rows.
    let sums = [(4, "37.75"), (6, "24.5")];
    for (dress, above, below) in [
        ("title", "Kneading log of spring 2026", String::new()),
        ("padded title", &*format!("Log{}\n\n", ",".repeat(width - 1)), String::new()),
        ("word", "", below("Total", &sums)),
        ("word elsewhere", "", below("", &[(2, "Summe:"), (4, "1")])),
        ("only sums", "", below("", &sums)),
    ] {
        let text = format!("{above}\n{}{below}\n", CANONICAL.to_owned());
        let read = assert_same(dress, text.as_bytes(), &options);
        assert_eq!(read.dialects[0].notes.len(), 1, "{dress}: {:?}", read.dialects[0].notes);
        assert_eq!(read.rows_read(), 6, "{dress}");
    }
    // A row without a batch that is no total is said, as ever.
    let text = format!("{CANONICAL}{}\n", below("", &[(1, "spiral"), (4, "3")]));
    let read = read_bytes(text.as_bytes(), &options);
    assert_eq!((read.rows_set_aside(), read.problems.len()), (1, 1), "{:#?}", read.problems);
}

#[test]
fn full_rows_of_totals_and_means_are_no_batches() {
    let full = "spiral,,strong,9.4,19.3,6.1,12,0.2,22,4,5,,22,0.7,";
    for word in [
        "Ø",
        "Ø Mai",
        "Gesamtsumme",
        "Summe Mai",
        "Schnitt",
        "Totaux",
        "Grand total",
        "max",
        "Mean",
    ] {
        let text = format!("{CANONICAL}{word},{full}\n");
        let read = assert_same(word, text.as_bytes(), &ReadOptions::default());
        assert_eq!((read.rows_read(), read.dialects[0].notes.len()), (6, 1), "{word}");
    }
    for name in ["Media luna", "Max 3", "Mittelbrot", "Sum-7"] {
        let text = format!("{CANONICAL}{name},{full}\n");
        let read = read_bytes(text.as_bytes(), &ReadOptions::default());
        assert_eq!(read.rows_used(), 7, "{name} is a batch");
    }
}

#[test]
fn thousands_apart() {
    let options = ReadOptions::default();
    for blank in ["\u{a0}", "\u{2009}", "\u{202f}", "'"] {
        let in_grams = |name: &str| name.replace("flour_kg", "flour_g");
        let text = dressed(";", in_grams, |name, value| match name {
            "flour_kg" => {
                let grams = value.parse::<f64>().unwrap() * 1000.0;
                format!("{}{blank}{:03}", grams as u32 / 1000, grams as u32 % 1000)
            }
            _ => with_comma(name, value),
        });
        assert!(text.contains(blank));
        assert_same(blank, text.as_bytes(), &options);
    }
}

#[test]
fn minutes_off_the_clock() {
    let options = ReadOptions::default();
    let clock: [fn(u32, u32) -> String; 6] = [
        |m, s| format!("{m}:{s:02}"),
        |m, s| format!("0:{m:02}:{s:02}"),
        |m, s| format!("00:{m:02}:{s:02}"),
        |m, s| format!("{m}'{s:02}"),
        |m, s| format!("{m}′{s:02}″"),
        |m, s| format!("{m}'{s:02}\""),
    ];
    for (form, write) in clock.iter().enumerate() {
        let text = dressed(",", as_is, |name, value| match name.starts_with("minutes") {
            true => {
                let minutes: f64 = value.parse().unwrap();
                write(minutes as u32, (minutes.fract() * 60.0) as u32)
            }
            false => value.to_owned(),
        });
        assert_same(&format!("clock {form}"), text.as_bytes(), &options);
    }
    let seconds = dressed(
        ",",
        |name| name.replace("minutes_", "seconds_"),
        |name, value| match name.starts_with("minutes") {
            true => (value.parse::<f64>().unwrap() * 60.0).to_string(),
            false => value.to_owned(),
        },
    );
    assert_same("seconds", seconds.as_bytes(), &options);
}

#[test]
fn dates_of_a_whole_column() {
    let options = ReadOptions::default();
    for separator in ["/", ".", "-"] {
        for month_first in [false, true] {
            let text = dressed(",", as_is, |name, value| match name {
                "date" => day(value, separator, month_first),
                _ => value.to_owned(),
            });
            let read = assert_same(separator, text.as_bytes(), &options);
            assert_eq!(read.dialects[0].notes.len(), 1);
        }
    }
    const MARCH: [&str; 5] = ["March", "März", "mars", "marzo", "Mar."];
    const APRIL: [&str; 5] = ["April", "April", "avril", "abril", "Apr."];
    for (march, april) in MARCH.into_iter().zip(APRIL) {
        for form in ["D. M Y", "M D, Y", "D-M-Y"] {
            let text = dressed(";", as_is, |name, value| match name {
                "date" => {
                    let month = if &value[5..7] == "03" { march } else { april };
                    form.replace('D', value[8..].trim_start_matches('0'))
                        .replace('Y', &value[..4])
                        .replace('M', month)
                }
                _ => value.to_owned(),
            });
            let read = assert_same(&format!("{march} as {form}"), text.as_bytes(), &options);
            assert_eq!(read.dialects[0].notes.len(), 1, "only the semicolon");
        }
    }
    let year_first = dressed(",", as_is, |name, value| match name {
        "date" => value.replace('-', "/"),
        _ => value.to_owned(),
    });
    assert_same("year first", year_first.as_bytes(), &options);
}

#[test]
fn capitals_other_words_and_other_orders() {
    let options = ReadOptions::default();
    let capitals =
        dressed(",", |name| format!(" {} ", name.to_uppercase()), |_, value| value.to_owned());
    assert_same("capitals", capitals.as_bytes(), &options);

    let names = ColumnNames::parse(
        "batch = 'Charge'\nflour_kg = 'Mehl (kg)'\nroom_c = { column = 'Backstube', unit = 'c' }\n\
         minutes_low = 'Stufe 1'\n",
    )
    .unwrap();
    let text = dressed(
        ";",
        |name| {
            let theirs = match name {
                "batch" => "CHARGE",
                "flour_kg" => "Mehl (kg)",
                "room_c" => "Backstube",
                "minutes_low" => "Stufe 1",
                other => other,
            };
            theirs.to_owned()
        },
        with_comma,
    );
    assert_same("other words", text.as_bytes(), &options.clone().with_columns(names));

    let rows = cells();
    let backwards: String = rows
        .iter()
        .map(|row| row.iter().rev().cloned().collect::<Vec<_>>().join(",") + "\n")
        .collect();
    let read = read_bytes(backwards.as_bytes(), &options);
    assert!(read.problems.is_empty());
    // The speeds are in another order then, and nothing else is different.
    assert_eq!(read.machines[0].log.batches.len(), 4);
}

#[test]
fn grades_in_per_cent_and_in_words() {
    let options = ReadOptions::default();
    let graded = |write: &dyn Fn(f64) -> String, header: &str| {
        dressed(
            ",",
            |name| if name == "development" { header.into() } else { name.into() },
            |name, value| match name {
                "development" => write(value.parse().unwrap()),
                _ => value.to_owned(),
            },
        )
    };
    let percent = |value: f64| ((value * 1000.0).round() / 10.0).to_string();
    let text = graded(&|value| format!("{} %", percent(value)), "development");
    assert_same("sign", text.as_bytes(), &options);
    let text = graded(&percent, "development_percent");
    assert_same("header", text.as_bytes(), &options);
    let stages: StageScale = "short=0.6,improved=0.85,intense=0.9".parse().unwrap();
    let text = graded(
        &|value| match value {
            0.6 => "Short".into(),
            0.85 => "improved".into(),
            _ => "INTENSE".to_owned(),
        },
        "development",
    );
    assert_same("stages", text.as_bytes(), &options.clone().with_stages(stages));
}

#[test]
fn fahrenheit_and_pounds_are_the_same_but_for_rounding() {
    let unit = |name: &str| {
        name.replace("_kg", "_lb")
            .replace("_c", "_f")
            .replace("water_lb", "water_oz")
            .replace("salt_lb", "salt_g")
    };
    let text = dressed(",", unit, |name, value| {
        let number = || value.parse::<f64>().unwrap();
        match name {
            "water_kg" => (number() / 0.453_592_37 * 16.0).to_string(),
            "salt_kg" => (number() * 1000.0).to_string(),
            _ if name.ends_with("_kg") => (number() / 0.453_592_37).to_string(),
            _ if name.ends_with("_c") => (number() * 1.8 + 32.0).to_string(),
            _ => value.to_owned(),
        }
    });
    let read = read_bytes(text.as_bytes(), &ReadOptions::default());
    assert!(read.problems.is_empty(), "{:?}", read.problems);
    let (ours, other) = (expected(), &read.machines[0].log);
    let near = |a: f64, b: f64| assert!((a - b).abs() <= 1e-12 * a.abs().max(1.0), "{a} {b}");
    for (one, two) in ours.batches.iter().zip(&other.batches) {
        near(one.charge.room_c, two.charge.room_c);
        for (one, two) in one.charge.ingredients.iter().zip(&two.charge.ingredients) {
            assert_eq!(one.material, two.material);
            near(one.mass_kg, two.mass_kg);
            near(one.temperature_c, two.temperature_c);
        }
        for (one, two) in one.stages.iter().zip(&two.stages) {
            assert_eq!(one.phases, two.phases);
            near(one.reading.dough_c.unwrap(), two.reading.dough_c.unwrap());
        }
    }
}
