//! The same forty batches in twelve dresses and more: the profiles are the same, but for the
//! log's name and hash and what was said of its dress.
//!
//! `forty/` holds the log, the files that LibreOffice made of it, and the script that had it
//! make them. The other dresses are put on here.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use rust_xlsxwriter::{ExcelDateTime, Format, Workbook};
use serde_json::Value;

use crate::support::Kitchen;

const MACHINES: [&str; 2] = ["spiral", "planetary"];

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/cli/forty")
}

/// The log's cells.
fn cells() -> Vec<Vec<String>> {
    let reader = csv::ReaderBuilder::new().has_headers(false).from_path(folder().join("forty.csv"));
    let rows = reader.unwrap().into_records();
    rows.map(|row| row.unwrap().iter().map(str::to_owned).collect()).collect()
}

/// The log with other headers and cells, parted by something; blank cells stay blank.
fn dressed(
    separator: u8,
    header: impl Fn(&str) -> String,
    cell: impl Fn(&str, &str) -> String,
) -> String {
    let rows = cells();
    let mut writer = csv::WriterBuilder::new().delimiter(separator).from_writer(Vec::new());
    writer.write_record(rows[0].iter().map(|name| header(name))).unwrap();
    for row in &rows[1..] {
        let row = row.iter().zip(&rows[0]);
        let row = row.map(|(v, name)| if v.is_empty() { String::new() } else { cell(name, v) });
        writer.write_record(row).unwrap();
    }
    String::from_utf8(writer.into_inner().unwrap()).unwrap()
}

fn as_is(name: &str) -> String {
    name.to_owned()
}

fn is_number(name: &str) -> bool {
    ["_kg", "_c"].iter().any(|ending| name.ends_with(ending))
        || name.starts_with("minutes_")
        || ["development", "preferment_hydration"].contains(&name)
}

/// A decimal times a power of ten, digit for digit.
fn shifted(value: &str, places: usize) -> String {
    let (whole, decimals) = value.split_once('.').unwrap_or((value, ""));
    let decimals = format!("{decimals:0<places$}");
    let (before, behind) = decimals.split_at(places);
    format!("{whole}{before}.{behind}").trim_end_matches('.').to_owned()
}

fn with_comma(name: &str, value: &str) -> String {
    if is_number(name) { value.replace('.', ",") } else { value.to_owned() }
}

/// `2026-03-14` as `14/03/2026`.
fn day_first(value: &str) -> String {
    format!("{}/{}/{}", &value[8..], &value[5..7], &value[..4])
}

/// `2026-03-14` as `14. März 2026`.
fn written_month(value: &str) -> String {
    const MONTHS: [&str; 12] = [
        "January", "Februar", "mars", "aprile", "mayo", "Juni", "juillet", "ago.", "Sept",
        "octubre", "novembre", "Dez.",
    ];
    let month: usize = value[5..7].parse().unwrap();
    format!("{}. {} {}", value[8..].trim_start_matches('0'), MONTHS[month - 1], &value[..4])
}

fn grade(row: &[String]) -> String {
    row[cells()[0].iter().position(|name| name == "development").unwrap()].clone()
}

/// The name of a grade's stage.
fn stage(grade: &str) -> String {
    format!("stage {}", grade.replace('.', "-"))
}

fn clock(value: &str) -> String {
    let seconds = (value.parse::<f64>().unwrap() * 60.0).round();
    format!("{}:{:02}", (seconds / 60.0).floor(), seconds % 60.0)
}

/// Calibrates a log and returns the machines' profiles.
fn profiles(kitchen: &Kitchen, log: &str, out: &str, more: &[&str]) -> Vec<Value> {
    let run = kitchen.run(&[&["fit", log, "--out", out], more].concat()).ended(0);
    assert!(!run.err.contains("doubt") && !run.err.contains("set aside"), "{}", run.err);
    let of = |machine: &str| {
        let text = kitchen.read(&format!("{out}/{machine}.profile.json"));
        serde_json::from_str(&text).unwrap()
    };
    MACHINES.map(of).into()
}

/// A profile without the name and the hash of its log, and the options that its dress took.
fn without_dress(mut profile: Value) -> Value {
    let calibration = profile["calibration"].as_object_mut().unwrap();
    for key in ["logs", "log_sha256", "options"] {
        assert!(calibration.remove(key).is_some(), "{key}");
    }
    profile
}

/// The batch of the rows that read it, and so the rows over which a baker merges its cells.
fn readings_of_a_batch(rows: &[Vec<String>]) -> Vec<(usize, usize)> {
    let mut merged: Vec<(usize, usize)> = Vec::new();
    for (index, row) in rows.iter().enumerate().skip(1) {
        match merged.last_mut() {
            Some((_, last)) if row[..2] == rows[*last][..2] => *last = index,
            _ => merged.push((index, index)),
        }
    }
    merged.retain(|(first, last)| last > first);
    merged
}

/// The log as a workbook with all that a tidy baker does to one: a cover, a row of units,
/// cells of batch and machine merged over the readings, days and minutes with their formats,
/// grades with the format of per cent, the header again half-way.
fn workbook() -> Vec<u8> {
    let rows = cells();
    let mut book = Workbook::new();
    let cover = book.add_worksheet().set_name("Cover").unwrap();
    cover.write_string(0, 0, "Our kneading log of the year").unwrap();
    cover.write_string(2, 0, "batch").unwrap();
    cover.write_string(2, 1, "a letter for the mixer, and a number").unwrap();
    let log = book.add_worksheet().set_name("Log").unwrap();
    let unit = |name: &str| match name {
        name if name.ends_with("_kg") => "kg",
        name if name.ends_with("_c") => "°C",
        name if name.starts_with("minutes_") => "min",
        _ => "",
    };
    for (column, name) in rows[0].iter().enumerate() {
        log.write_string(0, column as u16, name).unwrap();
        log.write_string(1, column as u16, unit(name)).unwrap();
    }
    let day_format = Format::new().set_num_format("d mmm yyyy");
    let time_format = Format::new().set_num_format("h:mm:ss");
    let share_format = Format::new().set_num_format("0%");
    let half = rows.len() / 2;
    let half = readings_of_a_batch(&rows)
        .into_iter()
        .find(|(first, last)| (first + 1..=*last).contains(&half))
        .map_or(half, |(first, _)| first);
    // Two rows of header, and from half-way on the header once more.
    let place = |index: usize| index as u32 + 1 + u32::from(index >= half);
    for (column, name) in rows[0].iter().enumerate() {
        log.write_string(half as u32 + 1, column as u16, name).unwrap();
    }
    for (index, row) in rows.iter().enumerate().skip(1) {
        for (column, (value, name)) in row.iter().zip(&rows[0]).enumerate() {
            let (at, column) = (place(index), column as u16);
            let number = || value.parse::<f64>().unwrap();
            match name.as_str() {
                _ if value.is_empty() => {}
                "date" => {
                    let day = ExcelDateTime::parse_from_str(value).unwrap();
                    log.write_datetime_with_format(at, column, &day, &day_format).unwrap();
                }
                "development" => {
                    log.write_number_with_format(at, column, number(), &share_format).unwrap();
                }
                name if name.starts_with("minutes_") => {
                    let days = number() / 1440.0;
                    log.write_number_with_format(at, column, days, &time_format).unwrap();
                }
                name if is_number(name) => {
                    log.write_number(at, column, number()).unwrap();
                }
                _ => {
                    log.write_string(at, column, value).unwrap();
                }
            }
        }
    }
    for (first, last) in readings_of_a_batch(&rows) {
        for column in 0..2 {
            let text = &rows[first][usize::from(column)];
            let (first, last) = (place(first), place(last));
            log.merge_range(first, column, last, column, text, &Format::new()).unwrap();
        }
    }
    book.save_to_buffer().unwrap()
}

#[test]
fn the_same_batches_in_any_dress_make_the_same_profiles() {
    let kitchen = Kitchen::new();
    let canonical = folder().join("forty.csv").display().to_string();
    let ours: Vec<Value> =
        profiles(&kitchen, &canonical, "ours", &[]).into_iter().map(without_dress).collect();
    let batches: u64 = ours.iter().map(|p| p["quality"]["batches"].as_u64().unwrap()).sum();
    assert_eq!(batches, 40);

    let semicolons = dressed(b';', as_is, with_comma);
    let plain = dressed(b',', as_is, |_, value| value.to_owned());
    let wide: Vec<u8> =
        format!("\u{feff}{plain}").encode_utf16().flat_map(u16::to_le_bytes).collect();
    let western = plain.replace("fridge", "K\u{fc}hlraum");
    let western: Vec<u8> = western.chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect();
    let titled = format!("Our kneading log\n\n{}", dressed(b'|', as_is, |_, v| v.to_owned()));
    let mut totals = vec![String::new(); cells()[0].len()];
    totals[0] = "Total".into();
    let titled = format!("{titled}{}\n", totals.join("|"));
    let marked = format!("\u{feff}{}", plain.replace('\n', "\r\n"));
    let smaller = dressed(
        b'\t',
        |name| {
            if name == "development" {
                return "development_percent".to_owned();
            }
            name.replace("_kg", "_g").replace("minutes_", "seconds_")
        },
        |name, value| match name {
            "development" => shifted(value, 2),
            name if name.ends_with("_kg") => shifted(value, 3),
            name if name.starts_with("minutes_") => {
                (value.parse::<f64>().unwrap() * 60.0).to_string()
            }
            _ => value.to_owned(),
        },
    );
    let clocks = dressed(b',', as_is, |name, value| match name {
        name if name.starts_with("minutes_") => clock(value),
        "date" => day_first(value),
        _ => value.to_owned(),
    });
    let headed = dressed(
        b';',
        |name| match name {
            "batch" => "Charge".into(),
            "flour_kg" => "Mehl".into(),
            "dough_c" => "Teigtemperatur".into(),
            "minutes_low" => "Gang 1".into(),
            name => name.to_uppercase().replace("MINUTES_", "minutes_"),
        },
        with_comma,
    );
    // Other words for MEDIUM and the like are speeds of their own: only the listed are renamed.
    let headed = headed.replace("minutes_MEDIUM", "minutes_medium");
    let headed =
        headed.replace("minutes_HIGH", "minutes_high").replace("minutes_REST", "minutes_rest");
    // Grades by names of their own, days with written months.
    let grades: BTreeSet<String> = cells()[1..].iter().map(|row| grade(row)).collect();
    let stages: Vec<String> =
        grades.iter().filter(|g| !g.is_empty()).map(|g| format!("{}={g}", stage(g))).collect();
    let stages = stages.join(",");
    let words = dressed(b',', as_is, |name, value| match name {
        "development" => stage(value),
        "date" => written_month(value),
        _ => value.to_owned(),
    });
    kitchen.write(
        "columns.toml",
        "batch = 'Charge'\nflour_kg = 'Mehl'\ndough_c = 'Teigtemperatur'\nminutes_low = 'Gang 1'\n",
    );
    for (name, bytes) in [
        ("semicolons.csv", semicolons.into_bytes()),
        ("wide.csv", wide),
        ("western.csv", western),
        ("titled.txt", titled.into_bytes()),
        ("marked.csv", marked.into_bytes()),
        ("smaller.tsv", smaller.into_bytes()),
        ("clocks.csv", clocks.into_bytes()),
        ("headed.csv", headed.into_bytes()),
        ("words.csv", words.into_bytes()),
        ("tidy-baker.xlsx", workbook()),
    ] {
        kitchen.write(name, bytes);
    }
    kitchen.run(&["tidy", "smaller.tsv", "--out", "tidied.csv"]).ended(0);
    let made = |name: &str| folder().join(name).display().to_string();
    let mut dresses = 0;
    for (log, more) in [
        ("semicolons.csv", &[][..]),
        ("wide.csv", &[]),
        ("western.csv", &[]),
        ("titled.txt", &[]),
        ("marked.csv", &[]),
        ("smaller.tsv", &[]),
        ("clocks.csv", &[]),
        ("headed.csv", &["--columns", "columns.toml"]),
        ("tidied.csv", &[]),
        ("words.csv", &["--development-stages", &stages]),
        ("tidy-baker.xlsx", &[]),
        (&made("forty.xlsx"), &["--sheet", "forty"]),
        (&made("forty.xls"), &[]),
        (&made("forty.ods"), &[]),
        (&made("german.csv"), &[]),
    ] {
        dresses += 1;
        let theirs = profiles(&kitchen, log, &format!("out-{dresses}"), more);
        for (theirs, ours) in theirs.into_iter().zip(&ours) {
            assert!(
                without_dress(theirs) == *ours,
                "{log}: another profile of {}",
                ours["machine"]
            );
        }
    }
    assert!(dresses >= 14);
}

#[test]
fn fahrenheit_and_pounds_make_the_same_profiles_to_a_part_in_a_thousand_million() {
    let kitchen = Kitchen::new();
    let ours = profiles(&kitchen, &folder().join("forty.csv").display().to_string(), "ours", &[]);
    let log = dressed(
        b',',
        |name| match name {
            name if name.ends_with("_c") => format!("{}f", &name[..name.len() - 1]),
            name if name.ends_with("_kg") => format!("{}lb", &name[..name.len() - 2]),
            name => name.to_owned(),
        },
        |name, value| match name {
            // 1 lb is 0.453 592 37 kg (NIST SP 811, appendix B).
            name if name.ends_with("_c") => {
                (value.parse::<f64>().unwrap() * 1.8 + 32.0).to_string()
            }
            name if name.ends_with("_kg") => {
                (value.parse::<f64>().unwrap() / 0.453_592_37).to_string()
            }
            _ => value.to_owned(),
        },
    );
    kitchen.write("pounds.csv", log);
    let theirs = profiles(&kitchen, "pounds.csv", "theirs", &[]);
    let mut compared = 0;
    for (ours, theirs) in ours.iter().zip(&theirs) {
        for part in ["coefficients", "scatter", "domain", "self_test"] {
            same(&ours[part], &theirs[part], &mut compared);
        }
    }
    assert!(compared > 500, "only {compared} numbers were compared");
}

/// Every number of two parts of a profile, to a part in 10⁹.
fn same(one: &Value, other: &Value, compared: &mut usize) {
    match (one, other) {
        (Value::Object(one), Value::Object(two)) => {
            assert!(one.keys().eq(two.keys()));
            one.keys().for_each(|key| same(&one[key], &two[key], compared));
        }
        (Value::Array(one), Value::Array(two)) => {
            assert_eq!(one.len(), two.len());
            one.iter().zip(two).for_each(|(one, two)| same(one, two, compared));
        }
        (Value::Number(one), Value::Number(two)) => {
            let (one, two) = (one.as_f64().unwrap(), two.as_f64().unwrap());
            assert!((one - two).abs() <= 1e-9 * one.abs().max(1.0), "{one} {two}");
            *compared += 1;
        }
        _ => assert_eq!(one, other),
    }
}
