//! Logs of many rows: a million is read and judged, a tenth of it calibrated.

use std::fmt::Write;

use crate::support::Kitchen;

/// A log of one invented machine: dough of flour and water in proportion to their heat, the
/// bowl, wetting, and friction by the minute; read to a tenth with some scatter.
fn log_of(rows: u64) -> String {
    let mut text = String::with_capacity(48 * rows as usize);
    text += "batch,flour_kg,flour_c,water_kg,water_c,room_c,minutes_low,dough_c\n";
    for i in 0..rows {
        let part = |k: u64| drawn(8 * i + k);
        let (flour_c, water_c, room_c) =
            (17.0 + 8.0 * part(0), 5.0 + 12.0 * part(1), 18.0 + 9.0 * part(2));
        let minutes = (4.0 + 12.0 * part(3)).round();
        let scatter_k = 0.6 * (part(4) + part(5) + part(6) - 1.5);
        let capacity = 17.6 + 27.2 + 4.5;
        let mixed_c = (17.6 * flour_c + 27.2 * water_c + 4.5 * room_c) / capacity;
        let dough_c = mixed_c + 3.0 + 0.2 * minutes + scatter_k;
        let _ = writeln!(
            text,
            "{i},10,{flour_c:.1},6.5,{water_c:.1},{room_c:.1},{minutes},{dough_c:.1}"
        );
    }
    text
}

/// The n-th draw from 0 to 1: the steps of SplitMix64 (Steele, Lea and Flood, 2014; its
/// constants from memory).
fn drawn(n: u64) -> f64 {
    let mut z = n.wrapping_add(1).wrapping_mul(0x9e37_79b9_7f4a_7c15);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
}

#[test]
fn a_million_rows_are_checked() {
    let kitchen = Kitchen::new();
    kitchen.write("log.csv", log_of(1_000_000) + "late,10,21,6.5,750,24,10,23\n");
    let run = kitchen.run(&["check", "log.csv"]).ended(2);
    assert!(run.out.contains("line 1000002"), "{}", run.out);
    assert!(run.out.contains("log: 1000000 batches, 1000000 dough temperatures"), "{}", run.out);
}

#[test]
fn a_hundred_thousand_rows_are_calibrated() {
    let kitchen = Kitchen::new();
    kitchen.write("log.csv", log_of(100_000));
    let run = kitchen.run(&["fit", "log.csv", "--out", "out", "--json"]).ended(0).json();
    let machine = &run["machines"][0];
    assert_eq!(machine["batches"], 100_000);
    let error_k = machine["forecast_error_k"]["rms"].as_f64().unwrap();
    // The scatter of three equal draws is 0.6 / 2 K, that of the last digit 0.03.
    assert!((0.27..0.33).contains(&error_k), "{error_k}");
    assert_eq!(machine["looks_mistyped"].as_array().unwrap().len(), 0);
    // No file grows with the log beyond what a browser opens.
    for ending in ["profile.json", "report.html", "residuals.svg"] {
        let size = kitchen.read(&format!("out/log.{ending}")).len();
        assert!(size < 2_000_000, "{ending}: {size}");
    }
}
