//! Logs as bad as they come: a clear answer, no panic, no partial file.

use crate::support::{GOOD, HEADER, Kitchen, OTHER_ROW, ROW, Run, demo, log_of};

/// Runs `fit` on a log of these bytes; what it leaves is checked for partial files.
#[track_caller]
fn fit(kitchen: &Kitchen, log: impl AsRef<[u8]>) -> Run {
    kitchen.write("spiral.csv", log);
    let run = kitchen.run(&["fit", "spiral.csv", "--out", "out"]);
    let whole: &[&str] = &["spiral.profile.json", "spiral.report.html", "spiral.residuals.svg"];
    let expected = if run.code == 0 { whole } else { &[] };
    assert_eq!(kitchen.names("out"), expected, "{}", run.err);
    run
}

#[track_caller]
fn nothing_usable(log: impl AsRef<[u8]>, words: &[&str]) {
    let kitchen = Kitchen::new();
    let run = fit(&kitchen, log).ended(2).err_says(words);
    assert_eq!(run.out, "");
    assert!(!kitchen.path("out").exists(), "a folder was made for nothing");
    kitchen.run(&["check", "spiral.csv"]).ended(2).out_says(words);
}

/// A log with one bad row among good ones: it is named, and the others are fitted.
#[track_caller]
fn one_row_aside(bad: &str, words: &[&str]) {
    let kitchen = Kitchen::new();
    let log = log_of(&[ROW, bad, OTHER_ROW]);
    let run = fit(&kitchen, log).ended(0).err_says(words);
    assert!(run.err.contains("spiral.csv, line 3 (row 2)"), "{}", run.err);
    assert!(run.err.contains("3 rows: 2 usable, 1 set aside."), "{}", run.err);
    assert!(run.out.contains("1 row is set aside"), "{}", run.out);
    assert!(kitchen.read("out/spiral.profile.json").contains("line 3 (row 2)"));
    kitchen.run(&["check", "spiral.csv"]).ended(2).out_says(words);
}

#[test]
fn an_empty_file() {
    nothing_usable("", &["spiral.csv", "an empty file", "a header row"]);
}

#[test]
fn a_header_and_nothing_else() {
    nothing_usable(format!("{HEADER}\n"), &["a header and nothing under it"]);
}

#[test]
fn a_byte_order_mark_and_windows_line_ends() {
    let kitchen = Kitchen::new();
    let plain = log_of(&[ROW, OTHER_ROW]);
    let out = fit(&kitchen, &plain).ended(0).out;
    let windows = format!("\u{feff}{}", plain.replace('\n', "\r\n"));
    let run = fit(&kitchen, windows).ended(0);
    assert_eq!(run.err, "");
    assert_eq!(run.out, out);
}

#[test]
fn a_line_break_within_quotes() {
    let kitchen = Kitchen::new();
    let log = format!("{HEADER},note\n{ROW},\"warm\nbowl\"\n{OTHER_ROW},plain\n");
    let run = fit(&kitchen, log).ended(0);
    assert_eq!(run.err, "");
    assert!(run.out.contains("2 batches"), "{}", run.out);
}

#[test]
fn a_quote_that_never_closes() {
    let kitchen = Kitchen::new();
    let log = format!("{HEADER},note\n{ROW},plain\n{OTHER_ROW},\"warm\n3,1,1,1,1,1,1,1,x\n");
    fit(&kitchen, log).ended(0).err_says(&["line 3", "a quote that is opened and never closed"]);
}

#[test]
fn a_required_column_is_missing() {
    let log =
        "flour_kg,flour_c,water_kg,water_c,room_c,minutes_low,dough_c\n10,21,6.5,12,24,10,23\n";
    nothing_usable(log, &["no column batch", "nothing of the file is used"]);
}

#[test]
fn other_separators_marks_and_capitals_are_read_and_said() {
    let kitchen = Kitchen::new();
    let plain = log_of(&[ROW, OTHER_ROW]);
    let out = fit(&kitchen, &plain).ended(0).out;
    let semicolons = plain.replace(',', ";").replace('.', ",");
    for (log, words) in [
        (semicolons.clone(), "parted by a semicolon; a decimal comma in water_kg, dough_c"),
        (semicolons.replace(';', "\t"), "parted by a tab"),
        (plain.replace(',', "|"), "parted by a bar"),
    ] {
        let run = fit(&kitchen, &log).ended(0).err_says(&["spiral.csv: columns are ", words]);
        assert_eq!(run.out, out);
        kitchen.run(&["check", "spiral.csv"]).ended(0).out_says(&[words, "0 errors, 0 doubts"]);
    }
    let run = fit(&kitchen, plain.to_uppercase()).ended(0);
    assert_eq!((run.out, &*run.err), (out, ""));
}

#[test]
fn doughs_without_minutes_calibrate_no_machine() {
    let kitchen = Kitchen::new();
    let log = "batch,flour_kg,flour_c,water_kg,water_c,room_c,minutes,dough_c\n\
               1,10,21,6.5,12,24,8,24\n2,10,21,6.5,10,24,8,23\n";
    let words = ["no minutes of mixing are logged", "minutes_low"];
    fit(&kitchen, log).ended(1).err_says(&words);
    kitchen.run(&["check", "spiral.csv"]).ended(0).out_says(&words);
}

#[test]
fn headers_with_blanks_for_underscores_are_said_with_the_names() {
    let log = log_of(&[ROW]).replace('_', " ");
    nothing_usable(log, &["no column room_c", "in 7 columns", "is it flour_kg (in kg)"]);
}

#[test]
fn a_file_in_utf_16_is_read_and_one_that_is_cut_is_not() {
    let kitchen = Kitchen::new();
    let plain = log_of(&[ROW, OTHER_ROW]);
    let out = fit(&kitchen, &plain).ended(0).out;
    let units: Vec<u16> = format!("\u{feff}{plain}").encode_utf16().collect();
    let mut bytes: Vec<u8> = units.iter().flat_map(|unit| unit.to_le_bytes()).collect();
    let run = fit(&kitchen, &bytes).ended(0).err_says(&["spiral.csv: the text is in UTF-16"]);
    assert_eq!(run.out, out);
    // Half a letter at the end is no number's last digit.
    bytes.truncate(bytes.len() - 3);
    kitchen.write("cut.csv", bytes);
    kitchen.run(&["check", "cut.csv"]).ended(2).out_says(&["line 3 (row 2)", "dough_c"]);
}

#[test]
fn the_same_mistake_in_many_rows_is_one_block_and_each_is_in_the_json() {
    let kitchen = Kitchen::new();
    let mut rows = vec![ROW.to_owned(), OTHER_ROW.to_owned()];
    rows.extend((3..12).map(|batch| format!("{batch},10,{},6.5,8,24,14,22.4", 66 + batch)));
    let rows: Vec<&str> = rows.iter().map(String::as_str).collect();
    kitchen.write("log.csv", log_of(&rows));
    let run = kitchen.run(&["check", "log.csv"]).ended(2);
    let run = run.out_says(&[
        "line 4 (row 3), batch 3, column flour_c (3rd): error, in 9 rows",
        "also:     line 5 (70): 70 °F is 21.1 °C: write 21.1 if it was read in °F; line 6 (71): ",
        "9 errors",
    ]);
    assert_eq!(run.out.matches("found:").count(), 1, "{}", run.out);
    let json = kitchen.run(&["check", "log.csv", "--json"]).ended(2).json();
    assert_eq!(json["problems"].as_array().unwrap().len(), 9);
    // The report groups them likewise, and the profile names each row.
    kitchen.run(&["fit", "log.csv", "--out", "out"]).ended(0);
    let report = kitchen.read("out/log.report.html");
    assert!(report.contains(", in 9 rows"), "the report does not group");
    assert!(kitchen.read("out/log.profile.json").contains("line 12 (row 11)"));
}

#[test]
fn a_row_without_flour_is_doubted_and_a_log_without_any_says_so() {
    let kitchen = Kitchen::new();
    kitchen.write("log.csv", log_of(&[ROW, "2,0,21,6.5,8,24,14,9.4", "3,,21,6.5,8,24,14,9.4"]));
    let words =
        ["doubt", "no flour: its mass is 0 or blank", "as a batch without flour", "2 doubts"];
    kitchen.run(&["check", "log.csv"]).ended(0).out_says(&words);
    let header = "batch,water_kg,water_c,room_c,minutes_low,dough_c";
    kitchen.write("water.csv", format!("{header}\n1,10,12,24,8,13.1\n2,10,12,24,16,14.2\n"));
    let run = kitchen.run(&["fit", "water.csv", "--out", "out"]).ended(0);
    let run = run.out_says(&["Logged without flour."]);
    assert!(kitchen.read("out/water.report.html").contains("The log is without flour."));
    assert!(!run.out.contains("hydrations were all"), "{}", run.out);
    kitchen.run(&["check", "water.csv"]).ended(0).out_says(&["no batch has flour"]);
    let run = kitchen.run(&["fit", &demo("kitchen-log.csv"), "--out", "out"]).ended(0);
    assert!(!run.out.contains("without flour"), "{}", run.out);
}

#[test]
fn grams_in_columns_of_kilograms_are_doubted() {
    let kitchen = Kitchen::new();
    kitchen.write(
        "log.csv",
        log_of(&["1,10000,21,6500,12,24,10,22.9", "2,10000,21,6500,8,24,14,22.4"]),
    );
    let words = [
        "doubt",
        "16500 kg in all",
        "all masses read as grams: flour_kg 10, water_kg 6.5",
        "2 doubts",
    ];
    kitchen.run(&["check", "log.csv"]).ended(0).out_says(&words);
}

#[test]
fn an_unknown_column_is_named_and_not_read() {
    let kitchen = Kitchen::new();
    let log = format!("{HEADER},watr_c\n{ROW},3\n{OTHER_ROW},4\n");
    fit(&kitchen, log).ended(0).err_says(&[
        "column watr_c",
        "is it water_c (in °C), water_f",
        "not read",
    ]);
}

#[test]
fn the_same_column_twice() {
    let log = format!("{HEADER},room_c\n{ROW},24\n");
    nothing_usable(log, &["room_c", "a second column of this name", "rename or delete"]);
}

#[test]
fn text_and_numbers_that_are_none() {
    one_row_aside("3,10,21,6.5,cold,24,10,23", &["column water_c", "cold", "a number"]);
    one_row_aside("3,10,21,6.5,NaN,24,10,23", &["column water_c", "NaN"]);
    one_row_aside("3,10,21,6.5,inf,24,10,23", &["column water_c", "inf"]);
    one_row_aside("3,10,21,6.5,12,24,1e308,23", &["column minutes_low", "1e308"]);
    one_row_aside("3,1e999,21,6.5,12,24,10,23", &["column flour_kg", "1e999"]);
    one_row_aside("3,10,21,6.5,12,24,10,75", &["column dough_c", "75", "23.9"]);
    one_row_aside("3,10,21,6.5,12,24,10", &["7 cells", "8 cells"]);
    one_row_aside("3,-10,21,6.5,12,24,10,23", &["column flour_kg", "-10", "not negative"]);
}

#[test]
fn ten_megabytes_in_one_cell() {
    let kitchen = Kitchen::new();
    let cell = "x".repeat(10_000_000);
    let log = log_of(&[ROW, &format!("3,10,21,6.5,{cell},24,10,23"), OTHER_ROW]);
    let run = fit(&kitchen, log).ended(0).err_says(&["(10000000 bytes)"]);
    assert!(run.err.len() < 2_000, "{} bytes of messages", run.err.len());
    // As a name it goes through everything that is written.
    let log = log_of(&[ROW, &format!("{cell},10,21,6.5,8,24,14,22.4")]);
    let run = fit(&kitchen, log).ended(0);
    assert!(run.out.len() < 10_000, "{} bytes of table", run.out.len());
}

#[test]
fn a_hundred_thousand_rows() {
    let kitchen = Kitchen::new();
    let mut log = format!("{HEADER}\n");
    for row in 0..100_000 {
        let (water_c, minutes) = (6 + row % 9, 6 + row % 7);
        // No dough comes out twice the same: up to 1 °C to either side.
        let chance = f64::from(row * 7919 % 1009) / 504.5 - 1.0;
        let dough_c = 15.0 + 0.45 * f64::from(water_c) + 0.3 * f64::from(minutes) + chance;
        log.push_str(&format!("{row},10,21,6.5,{water_c},24,{minutes},{dough_c:.1}\n"));
    }
    fit(&kitchen, log).ended(0).out_says(&["100000 batches"]);
}

#[test]
fn a_hundred_thousand_bad_rows() {
    let mut log = format!("{HEADER}\n");
    for row in 0..100_000 {
        log.push_str(&format!("{row},10,21,6.5,cold,24,10,22.4\n"));
    }
    let kitchen = Kitchen::new();
    let run = fit(&kitchen, log).ended(2).err_says(&["in 100000 rows", "and 99994 more"]);
    assert!(run.err.len() < 2_000, "{} bytes of messages", run.err.len());
}

#[test]
fn one_batch_is_fitted_and_says_how_little_it_tells() {
    let kitchen = Kitchen::new();
    fit(&kitchen, log_of(&[ROW])).ended(0).out_says(&[
        "1 batch,",
        "before this batch was known",
        "→",
    ]);
    kitchen.run(&["check", "spiral.csv"]).ended(0).out_says(&["one batch alone says little"]);
}

#[test]
fn a_speed_never_used() {
    let kitchen = Kitchen::new();
    let log = format!("{HEADER},minutes_high\n{ROW},0\n{OTHER_ROW},0\n");
    fit(&kitchen, &log).ended(0).out_says(&["high: warms the dough", "as is usual"]);
    kitchen.run(&["check", "spiral.csv"]).ended(0).out_says(&["high was never used"]);
    // A column that is blank in every row is of a speed that this machine has not.
    let blank = format!("{HEADER},minutes_high\n{ROW},\n{OTHER_ROW},\n");
    let run = fit(&kitchen, blank).ended(0);
    assert!(!run.out.contains("high"), "{}", run.out);
}

#[test]
fn all_batches_equal() {
    let kitchen = Kitchen::new();
    let rows: Vec<String> = (1..=9).map(|i| format!("{i}{}", &ROW[1..])).collect();
    let log = format!("{HEADER}\n{}\n", rows.join("\n"));
    fit(&kitchen, &log).ended(0).out_says(&["9 batches", "Not known, and which batch would tell"]);
    kitchen.run(&["check", "spiral.csv"]).ended(0).out_says(&["every number equal", "8 doubts"]);
    // Without priors, what such batches do not tell is held, and the table says so.
    let plain = kitchen.run(&["fit", "spiral.csv", "--no-prior", "--out", "plain"]).ended(0);
    let plain = plain.out_says(&["held", "not from this log", "Not told by this log", "→ mix one"]);
    // An interval of copies has no width, and one that spans everything says nothing.
    for line in plain.out.lines() {
        let parts: Vec<&str> = line.split("\u{a0}to\u{a0}").collect();
        if let [before, after] = parts[..] {
            let low = before.split_whitespace().last().unwrap();
            let high = after.split_whitespace().next().unwrap();
            assert_ne!(low, high, "{line}");
        }
    }
    let json = kitchen.run(&["fit", "spiral.csv", "--no-prior", "--out", "plain", "--json"]);
    let low = &json.ended(0).json()["machines"][0]["speeds"][0]["warming_c_per_min"]["low"];
    assert!(low.is_null(), "{low}");
}

#[test]
fn speeds_that_cannot_be_told_apart_have_no_plain_fit() {
    let kitchen = Kitchen::new();
    let log = format!(
        "{HEADER},minutes_high\n1,10,21,6.5,12,24,10,22.9,5\n2,10,21,6.5,8,24,14,22.4,7\n\
         3,10,21,6.5,8,24,12,21.4,6\n4,10,21,6.5,8,24,12,21.3,6\n"
    );
    fit(&kitchen, log).ended(0).out_says(&["cannot be told apart"]);
    let words = "minutes at low and at high always rose together";
    kitchen.run(&["check", "spiral.csv"]).ended(0).out_says(&[words]);
    let plain = kitchen.run(&["fit", "spiral.csv", "--no-prior", "--out", "plain"]).ended(1);
    let words = "minutes at low and at high always rose together";
    let plain = plain.err_says(&["nothing is written", words, "leave --no-prior away"]);
    for jargon in ["converged", "cost", "coefficient", "priors"] {
        assert!(!plain.err.contains(jargon), "{jargon}: {}", plain.err);
    }
    assert_eq!(plain.out, "");
    assert_eq!(kitchen.names("plain"), [""; 0]);
}

#[test]
fn two_hundred_speeds() {
    let kitchen = Kitchen::new();
    let mut log = "batch,flour_kg,flour_c,water_kg,water_c,room_c,dough_c".to_owned();
    for speed in 0..200 {
        log.push_str(&format!(",minutes_s{speed}"));
    }
    for batch in 0..5 {
        log.push_str(&format!("\n{batch},10,21,6.5,12,24,22.{batch}"));
        for speed in 0..200 {
            log.push_str(if speed % 20 == batch { ",1" } else { ",0" });
        }
    }
    let run = fit(&kitchen, log).ended(0).out_says(&["192 more speeds in the report"]);
    assert!(run.out.lines().count() < 60, "{}", run.out);
}

#[test]
fn a_log_without_temperatures_has_no_fit() {
    let kitchen = Kitchen::new();
    let log = "batch,flour_kg,flour_c,water_kg,water_c,room_c,minutes_low,development\n\
               1,10,21,6.5,12,24,10,0.8\n2,10,21,6.5,12,24,14,0.9\n";
    let run = fit(&kitchen, log).ended(1).err_says(&["spiral: no usable fit, nothing is written"]);
    assert_eq!(run.out, "");
}

#[test]
fn logs_that_are_not_there() {
    let kitchen = Kitchen::new();
    for command in ["check", "fit"] {
        let mut arguments = vec![command, "none.csv"];
        if command == "fit" {
            arguments.extend(["--out", "out"]);
        }
        let run = kitchen
            .run(&arguments)
            .ended(2)
            .err_says(&["cannot open the log none.csv: there is nothing of that name"]);
        assert!(!run.err.contains("os error"), "{}", run.err);
        assert_eq!(run.out, "");
    }
    kitchen.run(&["check", "."]).ended(2).err_says(&["is a folder"]);
}

#[test]
fn bytes_that_are_no_text() {
    let kitchen = Kitchen::new();
    let mut log = log_of(&[ROW, OTHER_ROW]).into_bytes();
    log.extend(b"\xff\xfe,10,21,6.5,12,24,10,23\n");
    let marked = [&b"\xEF\xBB\xBF"[..], &log].concat();
    fit(&kitchen, marked).ended(0).err_says(&["line 4", "text in UTF-8"]);
    // Without a mark they are letters of Windows-1252, which is said.
    fit(&kitchen, log).ended(0).err_says(&["spiral.csv: the text is in Windows-1252"]);
    let picture: Vec<u8> = (0..=255).cycle().take(5_000).collect();
    kitchen.write("picture.csv", picture);
    kitchen.run(&["check", "picture.csv"]).ended(2);
}

#[test]
fn a_name_cannot_command_the_terminal() {
    let kitchen = Kitchen::new();
    let log = GOOD
        .replacen("batch,", "machine,batch,", 1)
        .replace("\n1,", "\n\u{1b}[31mred,1,")
        .replace("\n2,", "\n\u{1b}[31mred,2,");
    kitchen.write("log.csv", log);
    for arguments in [&["check", "log.csv"][..], &["fit", "log.csv", "--out", "out"][..]] {
        let run = kitchen.run_with(arguments, &[("CLICOLOR_FORCE", "1")], b"");
        assert!(!run.out.contains("\u{1b}[31mred"), "{:?}", run.out);
        assert!(!run.err.contains("\u{1b}[31mred"), "{:?}", run.err);
    }
}

#[test]
fn the_demo_with_bad_rows_names_each_and_fits_the_rest() {
    let kitchen = Kitchen::new();
    let log = demo("kitchen-log-bad-rows.csv");
    let run = kitchen.run(&["fit", &log, "--out", "out"]).ended(0);
    for batch in 4..=13 {
        assert!(run.err.contains(&format!("batch B{batch:02}")), "B{batch:02}:\n{}", run.err);
    }
    assert!(run.out.contains("spiral  6 batches"), "{}", run.out);
    assert_eq!(kitchen.names("out").len(), 3);
    let check = kitchen.run(&["check", &log]).ended(2);
    assert_eq!(check.err, "");
    assert!(check.out.contains("10 set aside"), "{}", check.out);
}
