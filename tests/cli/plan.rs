//! `kneadfit plan`.

use std::path::Path;

use serde_json::Value;

use crate::support::{GOOD, Kitchen, Run, demo};

/// A kitchen with the demo's spiral calibrated, and the path of its profile.
fn spiral() -> (Kitchen, String) {
    let kitchen = Kitchen::new();
    let log = demo("kitchen-log.csv");
    kitchen.run(&["fit", &log, "--machine", "spiral", "--out", "out"]).ended(0);
    let profile = kitchen.path("out/spiral.profile.json").to_str().unwrap().to_owned();
    (kitchen, profile)
}

/// A kitchen with a small log calibrated.
fn small() -> (Kitchen, String) {
    let kitchen = Kitchen::new();
    let profile = kitchen.profile_of(GOOD).to_str().unwrap().to_owned();
    (kitchen, profile)
}

/// The CSV as a map a row.
fn table(run: &Run) -> Vec<std::collections::HashMap<String, String>> {
    csv::Reader::from_reader(run.out.as_bytes()).deserialize().map(Result::unwrap).collect()
}

fn header(run: &Run) -> &str {
    run.out.lines().next().unwrap()
}

#[test]
fn the_demos_doughs_are_planned_row_by_row() {
    let (kitchen, profile) = spiral();
    let run = kitchen.run(&["plan", &profile, &demo("plan.csv"), "--dough-c", "24"]).ended(0);
    assert_eq!(
        header(&run),
        "batch,water_c,water_kg,ice_kg,minutes_low,minutes_high,dough_c,dough_low_c,dough_high_c,\
         chance_within_1c,development,development_low,development_high,verdict,why"
    );
    let rows = table(&run);
    assert_eq!(rows.iter().map(|r| &*r["batch"]).collect::<Vec<_>>(), ["P1", "P2", "P3", "P4"]);
    let n = |row: usize, column: &str| rows[row][column].parse::<f64>().unwrap();
    for row in 0..3 {
        assert!((n(row, "dough_c") - 24.0).abs() < 0.02, "{:?}", rows[row]);
        assert!(n(row, "dough_low_c") < 24.0 && n(row, "dough_high_c") > 24.0);
        assert!(n(row, "chance_within_1c") > 0.8 && n(row, "development") > 0.85);
    }
    assert_eq!(rows[0]["verdict"], "ok");
    // What is given stays.
    assert_eq!((&*rows[1]["minutes_low"], &*rows[3]["minutes_high"]), ("5", "9.5"));
    // Water and ice are together the formula water.
    assert!(n(2, "ice_kg") > 0.0 && (n(2, "water_kg") + n(2, "ice_kg") - 10.0).abs() < 1e-9);
    assert!(rows[2]["why"].contains("no ice it ends"), "{}", rows[2]["why"]);
    assert_eq!(rows[3]["verdict"], "not-reachable");
    assert!(rows[3]["why"].contains("°C too warm; "), "{}", rows[3]["why"]);
}

/// The row of a planned dough as a log has it.
fn logged(plan: &Value, ice_c: &str, minutes: [&str; 2]) -> String {
    let total = |speed: &str| plan["minutes"][speed].to_string();
    format!(
        "batch,flour_kg,flour_c,water_kg,water_c,ice_kg,ice_c,salt_kg,room_c,minutes_{},minutes_{}\n\
         again,10,24,{},{},{},{ice_c},0.2,27,{},{}\n",
        minutes[0],
        minutes[1],
        plan["water_kg"],
        plan["water_c"],
        plan["ice_kg"],
        total(minutes[0]),
        total(minutes[1])
    )
}

/// The forecast of the planned batch, written as a row of a log, is that of the plan: to
/// 1e-9 by the JSON, and by the table to its digits.
#[test]
fn a_planned_batch_forecasts_to_what_was_planned() {
    let (kitchen, profile) = small();
    let dough = ["--flour", "10kg@24", "--water", "6.6kg", "--salt", "200g", "--room", "27"];
    for wanted in ["26", "22", "12"] {
        let mut arguments = vec!["plan", &profile, "--dough-c", wanted, "--json"];
        arguments.extend(dough);
        let plan = kitchen.run(&arguments).ended(0).json();
        let plan = &plan[0];
        let iced = plan["ice_kg"].as_f64().unwrap() > 0.0;
        assert_eq!(iced, wanted != "26");
        let row = logged(plan, if iced { "-4" } else { "" }, ["low", "high"]);
        kitchen.write("again.csv", row);
        let said = kitchen.run(&["forecast", &profile, "again.csv", "--json"]).ended(0).json();
        for key in ["dough_c", "dough_low_c", "dough_high_c", "development", "development_low"] {
            let (planned, forecast) = (plan[key].as_f64().unwrap(), said[0][key].as_f64().unwrap());
            assert!((planned - forecast).abs() < 1e-9, "{wanted} {key}: {planned}, {forecast}");
        }

        arguments.retain(|a| *a != "--json");
        let printed = &table(&kitchen.run(&arguments).ended(0))[0];
        let row = format!(
            "batch,flour_kg,flour_c,water_kg,water_c,ice_kg,ice_c,salt_kg,room_c,minutes_low,minutes_high\n\
             again,10,24,{},{},{},{},0.2,27,{},{}\n",
            printed["water_kg"],
            printed["water_c"],
            printed["ice_kg"],
            if iced { "-4" } else { "" },
            printed["minutes_low"],
            printed["minutes_high"]
        );
        kitchen.write("again.csv", row);
        let again = &table(&kitchen.run(&["forecast", &profile, "again.csv"]).ended(0))[0];
        for key in ["dough_c", "dough_low_c", "dough_high_c", "development"] {
            let [planned, forecast]: [f64; 2] = [printed, again].map(|r| r[key].parse().unwrap());
            assert!((planned - forecast).abs() <= 0.0101, "{key}: {planned}, {forecast}");
        }
    }
}

/// A dough of the command line is the same as its row.
#[test]
fn one_dough_of_the_command_line_is_its_row() {
    let (kitchen, profile) = small();
    kitchen.write(
        "one.csv",
        "batch,flour,flour_kg,flour_c,water_kg,salt_kg,sugar_kg,fat_kg,preferment_kg,preferment_c,\
         preferment_hydration,room_c,bowl_c,minutes_low,minutes_high\n\
         dough,\"a, b\",9,21,6,0.2,0.1,0.05,1,18,0.8,26,20,4,\n",
    );
    let file = kitchen.run(&["plan", &profile, "one.csv", "--dough-c", "25"]).ended(0);
    let given = [
        "plan",
        &profile,
        "--dough-c",
        "25",
        "--flour",
        "9000g@21",
        "--water",
        "6kg",
        "--salt",
        "200g",
        "--sugar",
        "100g",
        "--fat",
        "0.05kg",
        "--preferment",
        "1kg@18",
        "--preferment-hydration",
        "0.8",
        "--room",
        "26",
        "--bowl",
        "20",
        "--flour-name",
        "a, b",
        "--minutes",
        "low=4",
    ];
    assert_eq!(kitchen.run(&given).ended(0).out, file.out);
}

#[test]
fn a_batch_on_its_way_is_told_how_much_more_and_when_to_stop() {
    let (kitchen, profile) = spiral();
    let way = demo("on-the-way.csv");
    let run = kitchen.run(&["plan", &profile, &way, "--cap-c", "26"]).ended(0);
    let rows = table(&run);
    assert_eq!((rows.len(), &*rows[0]["why"], &*rows[1]["verdict"]), (3, "over", ""));
    assert_eq!((&*rows[2]["minutes_low"], &*rows[2]["water_kg"]), ("4", ""));
    let total: f64 = rows[2]["minutes_high"].parse().unwrap();
    assert!(total > 3.0, "{total}");
    let why = &rows[2]["why"];
    let more: f64 = why.split(" more min at high").next().unwrap().parse().unwrap();
    assert!((more + 3.0 - total).abs() < 1e-9, "{why} {total}");

    let hot = kitchen.run(&["plan", &profile, &way, "--cap-c", "18"]).ended(0);
    let last = &table(&hot)[2];
    assert!(last["why"].starts_with("stop now: "), "{}", last["why"]);
    assert_eq!((&*last["minutes_high"], &*last["verdict"]), ("3", "not-reachable"));
}

#[test]
fn minutes_without_a_column_are_none_and_bounds_are_kept() {
    let (kitchen, profile) = small();
    let dough = "batch,flour_kg,flour_c,water_kg,water_c,room_c";
    kitchen.write("low.csv", format!("{dough},minutes_low\na,10,21,6.5,,24,\n"));
    let run = kitchen.run(&["plan", &profile, "low.csv", "--dough-c", "24"]).ended(0);
    assert_eq!(table(&run)[0]["minutes_high"], "0");
    kitchen.write("all.csv", format!("{dough}\na,10,21,6.5,,24\n"));
    let bounds = ["--least-minutes", "low=7", "--most-minutes", "low=8,high=5"];
    let mut arguments = vec!["plan", &profile, "all.csv", "--dough-c", "24"];
    arguments.extend(bounds);
    let row = &table(&kitchen.run(&arguments).ended(0))[0];
    let n = |column: &str| row[column].parse::<f64>().unwrap();
    assert!((7.0..=8.0).contains(&n("minutes_low")) && n("minutes_high") <= 5.0, "{row:?}");
}

#[test]
fn rest_has_a_column_where_it_plays_a_part() {
    let (kitchen, profile) = small();
    kitchen.write(
        "rest.csv",
        "batch,flour_kg,flour_c,water_kg,room_c,minutes_low,minutes_rest,minutes_high\n\
         a,10,21,6.5,24,5,20,\n",
    );
    let run = kitchen.run(&["plan", &profile, "rest.csv", "--dough-c", "24"]).ended(0);
    assert!(header(&run).contains("minutes_low,minutes_rest,minutes_high,dough_c"));
    assert_eq!(table(&run)[0]["minutes_rest"], "20");
    // This log has no rest, so that none is planned.
    kitchen.write("none.csv", "batch,flour_kg,flour_c,water_kg,room_c\na,10,21,6.5,24\n");
    let arguments = ["plan", &profile, "none.csv", "--dough-c", "24", "--most-rest", "30"];
    let run = kitchen.run(&arguments).ended(0).err_says(&["no rest is planned"]);
    assert!(!header(&run).contains("rest"));
}

#[test]
fn rows_that_cannot_be_planned_are_blank_and_named() {
    let (kitchen, profile) = small();
    kitchen.write(
        "some.csv",
        "batch,machine,flour_kg,flour_c,water_kg,water_c,ice_kg,room_c,minutes_low,minutes_turbo\n\
         a,to-fit,10,21,6.5,,,24,5,\n\
         no flour,to-fit,,,6.5,,,24,,\n\
         dry,to-fit,10,21,,,,24,5,\n\
         given,to-fit,10,21,6.5,12,,24,5,\n\
         turbo,to-fit,10,21,6.5,,,24,5,3\n\
         warm,to-fit,10,75,6.5,,,24,5,\n\
         other,hand,10,21,6.5,,,24,5,\n\
         icy,to-fit,10,21,6.5,,7,24,5,\n",
    );
    let run = kitchen.run(&["plan", &profile, "some.csv", "--dough-c", "24"]).ended(2);
    let rows = table(&run);
    assert_eq!(rows.len(), 8);
    assert!(!rows[0]["dough_c"].is_empty());
    for row in &rows[1..] {
        assert!(row.iter().all(|(column, cell)| column == "batch" || cell.is_empty()), "{row:?}");
    }
    run.err_says(&[
        "some.csv, line 3 (row 2), batch no flour, column minutes_low: ",
        "some.csv, line 4 (row 3), batch dry, column water_kg: ",
        "some.csv, line 5 (row 4), batch given, column water_c: ",
        "leave blank what is wanted",
        "column minutes_turbo: ",
        "no speed \"turbo\"; it has low, high",
        "column flour_c",
        "1 row is of hand: blank cells",
        "its ice included",
    ]);
}

#[test]
fn wishes_that_cannot_be_are_refused_with_what_to_write() {
    let (kitchen, profile) = small();
    kitchen.write("a.csv", "batch,flour_kg,flour_c,water_kg,room_c\na,10,21,6.5,24\n");
    for (options, said) in [
        (&["--dough-c", "75"][..], "75 °F is written 23.9"),
        (&["--dough-c", "warm"], "expected a number"),
        (&["--coldest-water-c", "30", "--warmest-water-c", "20"], "contradict each other"),
        (&["--least-minutes", "low=9", "--most-minutes", "low=3"], "contradict each other"),
        (&["--least-minutes", "turbo=9"], "write one of low, high"),
        (&["--most-minutes", "low=1,low=2"], "named twice"),
        (&["--most-minutes", "low"], "write low=4"),
        (&["--chance", "90"], "written 0.9"),
        (&["--most-ice-share", "50"], "written 0.5"),
        (&["--develop", "nan"], "finite"),
        (&["--ice-c", "3"], "expected -60 to 0 °C"),
        (&["--flour", "10kg@21", "--room", "24"], "cannot be used with"),
    ] {
        let mut arguments = vec!["plan", &profile, "a.csv"];
        arguments.extend(options);
        let run = kitchen.run(&arguments).ended(2).err_says(&[said]);
        assert_eq!(run.out, "", "{options:?}");
    }
    // Without a wanted temperature there is no water to plan.
    kitchen.run(&["plan", &profile, "a.csv"]).ended(2).err_says(&["--dough-c 24"]);
    kitchen.run(&["plan", &profile]).ended(2).err_says(&["--flour"]);
}

#[test]
fn a_malformed_dough_of_the_command_line_is_answered() {
    let (kitchen, profile) = small();
    let room = ["--room", "24"];
    for (options, said) in [
        (&["--flour", "10"][..], "write 10kg or 10g"),
        (&["--flour", "10kg"], "write 10kg@21"),
        (&["--flour", "10kg@"], "behind the @"),
        (&["--flour", "10lb@21"], "expected kg or g"),
        (&["--flour", "10,5kg@21"], "write 10.5kg"),
        (&["--flour", "-1kg@21"], "expected 0 to"),
        (&["--flour", "10kg@75", "--water", "6.6kg"], "--flour: found 75"),
        (&["--flour", "10kg@21", "--water", "66kg"], "found 6.6 kg of water a kg of flour"),
        (&["--flour", "10kg@21", "--water", "6.6kg", "--ice", "7kg"], "its ice included"),
        (&["--flour", "10kg@21", "--water", "6.6kg", "--minutes", "low:4"], "write low:4=4"),
        (&["--flour", "10kg@21", "--water", "6.6kg", "--minutes", "turbo=4"], "one of low, high"),
        (&["--flour", "0kg@21", "--water", "6.6kg"], "without flour nothing develops"),
        (
            &["--flour", "10kg@21", "--water", "0kg", "--minutes", "low=4,high=4"],
            "makes no dough; write its mass into water_kg",
        ),
    ] {
        let mut arguments = vec!["plan", &profile, "--dough-c", "24"];
        arguments.extend(options);
        arguments.extend(room);
        let run = kitchen.run(&arguments).ended(2);
        assert!(run.err.contains(said), "{options:?}: {said:?} is not in\n{}", run.err);
    }
    let no_room = ["plan", &profile, "--dough-c", "24", "--flour", "10kg@21", "--water", "6kg"];
    kitchen.run(&no_room).ended(2).err_says(&["--room"]);
}

#[test]
fn what_cannot_be_reached_is_said_with_numbers() {
    let (kitchen, profile) = small();
    kitchen.write("a.csv", "batch,flour_kg,flour_c,water_kg,room_c\na,10,21,6.5,24\n");
    let run = kitchen.run(&["plan", &profile, "a.csv", "--dough-c", "50"]).ended(0);
    let row = &table(&run)[0];
    assert_eq!((&*row["verdict"], &*row["water_c"]), ("not-reachable", "40.00"));
    let off = 50.0 - row["dough_c"].parse::<f64>().unwrap();
    assert!(row["why"].starts_with(&format!("{off:.1} °C too cold")), "{}", row["why"]);
    let json = kitchen.run(&["plan", &profile, "a.csv", "--dough-c", "50", "--json"]).json();
    let short = &json[0]["short_of"][0];
    assert_eq!(short["what"], "too_cold");
    assert!((short["by_k"].as_f64().unwrap() - off).abs() < 0.006);
    for remedy in json[0]["remedies"].as_array().unwrap() {
        assert!(remedy["dough_c"].as_f64().unwrap() > 50.0 - off, "{remedy}");
    }
}

#[test]
fn a_profile_without_development_plans_water_alone() {
    let kitchen = Kitchen::new();
    let log = "batch,flour_kg,flour_c,water_kg,water_c,room_c,minutes_low,dough_c\n\
               1,10,21,6.5,12,24,10,22.9\n2,10,21,6.5,8,24,14,22.4\n";
    let profile = kitchen.profile_of(log);
    let profile = profile.to_str().unwrap();
    kitchen.write(
        "a.csv",
        "batch,flour_kg,flour_c,water_kg,room_c,minutes_low\na,10,21,6.5,24,12\nb,10,21,6.5,24,\n",
    );
    let run = kitchen.run(&["plan", profile, "a.csv", "--dough-c", "23"]).ended(2);
    let rows = table(&run);
    assert_eq!((&*rows[0]["dough_c"], &*rows[0]["development"]), ("23.00", ""));
    assert_eq!(rows[1]["dough_c"], "");
    run.err_says(&["line 3 (row 2), batch b, column minutes_low", "knows no development"]);
}

#[test]
fn hostile_files_are_answered() {
    let (kitchen, profile) = small();
    let run = |content: &[u8]| {
        kitchen.write("hostile.csv", content);
        let arguments = ["plan", &profile, "hostile.csv", "--dough-c", "24", "--card", "cards"];
        kitchen.run(&arguments)
    };
    let head = "batch,flour_kg,flour_c,water_kg,room_c,minutes_low";
    for content in [
        Vec::new(),
        b"\0\xff\xfe".to_vec(),
        b"batch,room_c".to_vec(),
        format!("{head}\n\"a,10,21,6.5,24,\n").into_bytes(),
        format!("{head}\na,1e308,21,6.5,24,\n").into_bytes(),
        format!("{head}\na,10,21,6.5\n").into_bytes(),
        format!("{head},minutes_low\na,10,21,6.5,24,,\n").into_bytes(),
        format!("{head}\na,1e-300,21,1e-300,24,\n").into_bytes(),
        format!("{head}\n{}", "a,10,21,6.5,24,\n".repeat(300)).into_bytes(),
    ] {
        let ended = run(&content);
        assert!([0, 2].contains(&ended.code), "{}", ended.err);
        assert!(ended.code == 0 || !ended.err.is_empty());
    }
    // Names stay within the folder and within their element.
    let content =
        format!("{head}\n../<script>&\",10,21,6.5,24,6\n\"x\u{202e}\ny\",10,21,6.5,24,6\n");
    kitchen.write("hostile.csv", content);
    let arguments = ["plan", &profile, "hostile.csv", "--dough-c", "24", "--card", "named"];
    kitchen.run(&arguments).ended(0);
    let names = kitchen.names("named");
    assert_eq!(names.len(), 2, "{names:?}");
    for name in names {
        let page = kitchen.read(&format!("named/{name}"));
        assert!(!page.contains("<script>"));
        roxmltree::Document::parse_with_options(
            &page,
            roxmltree::ParsingOptions { allow_dtd: true, ..Default::default() },
        )
        .unwrap_or_else(|error| panic!("{error}\n{page}"));
    }
}

/// Every number that the bench needs stands on the card.
#[test]
fn a_card_for_each_dough() {
    let (kitchen, profile) = spiral();
    let plan = demo("plan.csv");
    let run = kitchen
        .run(&["plan", &profile, &plan, "--dough-c", "24", "--card", "cards", "--json"])
        .ended(0);
    let names = ["P1.card.html", "P2.card.html", "P3.card.html", "P4.card.html"];
    assert_eq!(kitchen.names("cards"), names);
    let json = run.json();
    for (row, name) in json.as_array().unwrap().iter().zip(names) {
        let page = kitchen.read(&format!("cards/{name}"));
        let text = page.replace('\u{a0}', " ");
        let c = |key: &str| format!("{:.1}", row[key].as_f64().unwrap());
        assert!(text.contains(&format!("{} °C</strong>", c("water_c"))), "{name}");
        assert!(text.contains(&format!("{} to {} in 95 %", c("dough_low_c"), c("dough_high_c"))));
        let ice_kg = row["ice_kg"].as_f64().unwrap();
        assert_eq!(text.contains("Ice</dt>"), ice_kg > 0.0, "{name}");
        for point in row["check_points"].as_array().unwrap() {
            let minutes = point["minutes"].as_f64().unwrap();
            let seconds = (60.0 * minutes).round() as u64;
            assert!(text.contains(&format!("{}:{:02} = ", seconds / 60, seconds % 60)), "{name}");
            let ends = format!("{:.1} °C (", point["dough_c"].as_f64().unwrap());
            assert!(text.contains(&ends), "{name}: {ends}");
        }
        assert!(text.contains("Stop the mixer") && text.contains("Raw flour"));
        for outside in ["<script", "<link", "href=", "src=", "url("] {
            assert!(!page.contains(outside), "{name}: {outside}");
        }
    }
    let first = kitchen.read("cards/P1.card.html").replace('\u{a0}', " ");
    for shown in ["11.5 kg", "7.6 kg", "250 g", "230 g", "strong white", "As wanted."] {
        assert!(first.contains(shown), "{shown}");
    }
    // A folder that cannot be made stops before the work.
    kitchen.write("taken", "");
    let run = kitchen.run(&["plan", &profile, &plan, "--dough-c", "24", "--card", "taken"]);
    let run = run.ended(2).err_says(&["in the way"]);
    assert_eq!(run.out, "");
    assert!(Path::new(&kitchen.path("taken")).is_file());
}
