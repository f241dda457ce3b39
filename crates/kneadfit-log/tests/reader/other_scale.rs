//! Rows whose temperatures were all read on the other scale: one fault, one mend for all.

use kneadfit_log::{ProblemKind, ReadOptions, Slip};

use crate::support::{GOOD, HEADER, only, only_error, read, read_rows, read_with};

/// The cells of the one mend, and that they make the log whole.
fn mended(text: &str) -> (Slip, Vec<(String, f64)>) {
    let read = read(text);
    assert!(matches!(only_error(&read, None), ProblemKind::OtherScale { .. }), "{}", only(&read));
    let mend = only(&read).mend().unwrap();
    let cells = mend.cells.iter().map(|cell| (cell.name.to_string(), cell.value)).collect();
    let whole = read_with(text, &ReadOptions::default().with_mends(mend.cells));
    assert!(whole.problems.is_empty(), "{:?}", whole.problems);
    (mend.slip, cells)
}

#[test]
fn a_row_in_fahrenheit_is_mended_with_its_water_that_passes_for_warm() {
    let text = format!("{HEADER}\n{GOOD}\n2,10,70,6.5,54,75,4,68\n");
    let (slip, cells) = mended(&text);
    assert_eq!(slip, Slip::Fahrenheit);
    let expected = [("flour_c", 21.1), ("room_c", 23.9), ("dough_c", 20.0), ("water_c", 12.2)];
    assert_eq!(cells, expected.map(|(name, value)| (name.to_owned(), value)));
    let read = read(&text);
    let said = only(&read).to_string();
    assert!(said.contains("flour_c 70, room_c 75, dough_c 68, water_c 54"), "{said}");
    assert!(said.contains("temperatures in °C, as their headers say"), "{said}");
}

#[test]
fn water_that_would_be_ice_in_fahrenheit_was_read_in_celsius() {
    let (_, cells) = mended(&format!("{HEADER}\n1,10,70,6.5,12,75,4,68\n"));
    assert!(cells.iter().all(|(name, _)| name != "water_c"), "{cells:?}");
}

#[test]
fn a_row_in_celsius_under_fahrenheit_is_found_where_no_cell_alone_is() {
    let header = "batch,flour_lb,flour_f,water_lb,water_f,room_f,minutes_low,dough_f";
    let (slip, cells) = mended(&format!("{header}\n1,22,20.5,14.4,31,22,4,26\n"));
    assert_eq!(slip, Slip::Celsius);
    let expected = [("flour_f", 68.9), ("room_f", 71.6), ("dough_f", 78.8), ("water_f", 87.8)];
    assert_eq!(cells, expected.map(|(name, value)| (name.to_owned(), value)));
}

#[test]
fn one_cell_on_the_other_scale_is_its_own_fault_and_hot_or_cold_kitchens_are_none() {
    for (row, column) in
        [("1,10,70,6.5,12,24,4,20", "flour_c"), ("1,10,21,6.5,12,24,4,75", "dough_c")]
    {
        let read = read_rows(&[row]);
        let kind = only_error(&read, Some(column));
        assert!(matches!(kind, ProblemKind::NotADoughTemperature { .. }), "{row}");
    }
    assert!(read_rows(&["1,10,38,6.5,38,40,4,39"]).problems.is_empty());
    let header = "batch,flour_lb,flour_f,water_lb,water_f,room_f,minutes_low,dough_f";
    let cold = read(&format!("{header}\n1,22,38,14.4,36,40,4,44\n"));
    assert!(cold.problems.is_empty(), "{:?}", cold.problems);
}
