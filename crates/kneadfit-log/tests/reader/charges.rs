//! Rows whose masses are all in another unit than their columns.

use kneadfit_log::{LogRead, ProblemKind, ReadOptions, Severity, Slip};

use crate::support::{only, read, read_with};

/// Usual batches in the unit, and one more row with other masses of flour, water and salt.
fn log(unit: &str, usual: [f64; 3], odd: &str) -> String {
    let mut text = format!(
        "batch,flour_{unit},flour_c,water_{unit},water_c,salt_{unit},room_c,minutes_low,dough_c\n"
    );
    for (id, share) in [0.6, 0.8, 1.0, 1.1, 1.2].into_iter().enumerate() {
        let [flour, water, salt] = usual.map(|mass| mass * share);
        text += &format!("{id},{flour},21,{water},12,{salt},24,4,19.{id}\n");
    }
    let [flour, water, salt]: [&str; 3] = odd.split(' ').collect::<Vec<_>>().try_into().unwrap();
    text + &format!("odd,{flour},21,{water},12,{salt},24,4,19.7\n")
}

fn kind(read: &LogRead) -> &ProblemKind {
    let problem = only(read);
    assert_eq!((problem.severity, problem.batch.as_deref()), (Severity::Doubt, Some("odd")));
    &problem.kind
}

#[test]
fn a_row_in_another_unit_is_mended_in_its_columns_unit() {
    for (unit, usual, odd, slip, meant) in [
        ("lb", [22.0, 14.3, 0.44], "10000 6500 200", Slip::Grams, [22.0462, 14.33, 0.4409]),
        ("lb", [22.0, 14.3, 0.44], "352 230 7", Slip::Ounces, [22.0, 14.375, 0.4375]),
        ("g", [10000.0, 6500.0, 200.0], "10 6.5 0.2", Slip::Kilograms, [1e4, 6500.0, 200.0]),
        (
            "oz",
            [350.0, 230.0, 7.0],
            "99000 65000 2000",
            Slip::Grams,
            [3492.1222, 2292.8075, 70.5479],
        ),
        ("kg", [10.0, 6.5, 0.2], "10000 6500 200", Slip::Grams, [10.0, 6.5, 0.2]),
    ] {
        let text = log(unit, usual, odd);
        let read = read(&text);
        kind(&read);
        let mend = only(&read).mend().unwrap_or_else(|| panic!("{unit}, {odd}: {}", only(&read)));
        let values: Vec<f64> = mend.cells.iter().map(|cell| cell.value).collect();
        assert_eq!((mend.slip, &values[..]), (slip, &meant[..]), "{unit}, {odd}");
        assert!(only(&read).hint().unwrap().starts_with("all masses read as "));
        let mended = read_with(&text, &ReadOptions::default().with_mends(mend.cells));
        assert!(mended.problems.is_empty(), "{:?}", mended.problems);
    }
}

#[test]
fn a_charge_that_no_other_unit_explains_is_not_mended() {
    // 300 kg of flour for 3 are an extra nought, or two.
    let read = read(&log("lb", [22.0, 14.3, 0.44], "9000 5850 180"));
    assert!(matches!(kind(&read), ProblemKind::LargeCharge { mend: Some(_), .. }));
    let read = self::read(&log("kg", [10.0, 6.5, 0.2], "1200 780 24"));
    assert!(matches!(kind(&read), ProblemKind::LargeCharge { mend: Some(_), .. }));
    let read = self::read(&log("kg", [100.0, 65.0, 2.0], "1200 780 24"));
    assert!(matches!(kind(&read), ProblemKind::LargeCharge { mend: None, .. }));
    assert!(only(&read).hint().unwrap().contains("another unit"));
}

#[test]
fn a_large_dough_beside_small_ones_is_no_row_in_ounces() {
    for odd in ["200 130 4", "300 195 6"] {
        let text = log("lb", [22.0, 14.3, 0.44], odd) + "next,90,21,58,12,1.8,24,4,19.6\n";
        assert!(read(&text).problems.is_empty(), "{odd}");
    }
}
