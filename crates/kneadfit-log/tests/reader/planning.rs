//! Logs of doughs to plan: what is blank is told, and every other check stays.

use kneadfit::charge::Material;
use kneadfit_log::{LogRead, ProblemKind, ReadOptions, Severity, read_log};

const HEADER: &str = "batch,flour_kg,flour_c,water_kg,water_c,ice_kg,ice_c,room_c,minutes_low,minutes_rest,minutes_high,dough_c\n";

fn planned(rows: &str) -> LogRead {
    let text = format!("{HEADER}{rows}");
    read_log("plan.csv", "spiral", text.as_bytes(), &ReadOptions::planning())
}

fn masses(read: &LogRead) -> (f64, f64) {
    let charge = &read.machines[0].batches()[0].charge;
    let of = |wanted| charge.mass_of_kg(|m| *m == wanted);
    (of(Material::Water), of(Material::Ice))
}

#[test]
fn blank_cells_are_told_from_written_ones_row_by_row() {
    let read = planned("a,10,21,6.5,,,,24,4,,,\nb,10,21,6.5,12,0.5,-6,24,0,5,,\n");
    assert!(read.problems.is_empty(), "{:?}", read.problems);
    assert_eq!(read.gaps.len(), 2);
    let (a, b) = (&read.gaps[0], &read.gaps[1]);
    assert!(a.water_c && a.ice_kg && a.ice_c);
    assert!(!b.water_c && !b.ice_kg && !b.ice_c);
    let cells = |row: usize| -> Vec<(&str, Option<f64>)> {
        read.gaps[row].minutes.iter().map(|m| (&*m.speed, m.total_min)).collect()
    };
    assert_eq!(cells(0), [("low", Some(4.0)), ("rest", None), ("high", None)]);
    assert_eq!(cells(1), [("low", Some(0.0)), ("rest", Some(5.0)), ("high", None)]);
}

#[test]
fn ice_is_part_of_the_formula_water_until_the_dough_is_mixed() {
    assert_eq!(masses(&planned("a,10,21,6.5,,0.5,,24,4,,,\n")), (6.0, 0.5));
    assert_eq!(masses(&planned("a,10,21,6.5,12,0.5,,24,4,,,\n")), (6.0, 0.5));
    // A batch on its way is written as in the log.
    assert_eq!(masses(&planned("a,10,21,6.5,12,0.5,,24,4,,,18.1\n")), (6.5, 0.5));
    let read = planned("a,10,21,6.5,,7,,24,4,,,\n");
    assert_eq!(read.problems[0].kind, ProblemKind::IceBeyondWater { water_kg: 6.5 });
    assert!(read.problems[0].hint().unwrap().contains("sum of water and ice"));
}

#[test]
fn a_batch_on_its_way_leaves_only_what_is_ahead() {
    let read = planned("a,10,21,6.5,12,,,24,4,,,18.1\na,,,,,,,,,,,\nb,10,21,6.5,,,,24,,,,\n");
    assert!(read.problems.is_empty(), "{:?}", read.problems);
    // The read row has no gaps, and gaps stay beside their rows.
    assert!(read.gaps[0].minutes.is_empty() && !read.gaps[0].water_c);
    assert_eq!(read.gaps[1].minutes.len(), 3);
    assert!(read.gaps[2].water_c);
}

#[test]
fn a_mixed_dough_must_have_its_waters_temperature() {
    let read = planned("a,10,21,6.5,,,,24,4,,,24\n");
    assert_eq!(read.problems[0].kind, ProblemKind::WaterOfReadDough);
    assert_eq!(&*read.problems[0].column.as_ref().unwrap().name, "water_c");
    assert!(read.gaps[0].minutes.is_empty());
}

#[test]
fn water_that_cannot_be_read_is_told_that_a_blank_has_it_planned() {
    let read = planned("a,10,21,6.5,as cold as needed,,,24,4,,,\n");
    let problem = &read.problems[0];
    assert_eq!((&problem.kind, read.rows_set_aside()), (&ProblemKind::NoWaterToPlan, 1));
    assert!(problem.expected().ends_with("or a blank cell to have it planned"), "{problem}");
    assert!(problem.hint().unwrap().starts_with("leave the cell blank"), "{problem}");
    let read = planned("a,10,21,6.5,12 °C,,,24,4,,,\n");
    assert!(read.problems[0].hint().unwrap().starts_with("write 12"), "{}", read.problems[0]);
    // Of a dough that is mixed a blank would be an error, too.
    let read = planned("a,10,21,6.5,cold,,,24,4,,,24\n");
    assert_eq!(read.problems[0].kind, ProblemKind::NotANumber { with_point: None });
}

#[test]
fn every_other_check_stays() {
    for (row, column) in [
        ("a,10,75,6.5,,,,24,4,,,", "flour_c"),
        ("a,10,,6.5,,,,24,4,,,", "flour_c"),
        ("a,10,21,6.5,cold,,,24,4,,,", "water_c"),
        ("a,10,21,6.5,,,,,4,,,", "room_c"),
        ("a,10,21,6.5,,,5,24,4,,,", "ice_c"),
        ("a,10,21,6.5,,,,24,-4,,,", "minutes_low"),
    ] {
        let read = planned(&format!("{row}\n"));
        assert_eq!(read.rows_set_aside(), 1, "{row}");
        assert_eq!(read.problems[0].severity, Severity::Error);
        assert_eq!(&*read.problems[0].column.as_ref().unwrap().name, column, "{row}");
    }
    let read = planned("a,10,21,30,,,,24,4,,,\n");
    assert!(matches!(read.problems[0].kind, ProblemKind::Hydration { .. }));
    let read = planned("a,,,,,,,24,4,,,\n");
    assert_eq!(read.problems[0].kind, ProblemKind::EmptyBowl);
}

#[test]
fn other_purposes_have_no_gaps_and_want_the_water() {
    let text = format!("{HEADER}a,10,21,6.5,,,,24,4,,,\n");
    let read = read_log("plan.csv", "spiral", text.as_bytes(), &ReadOptions::forecasting());
    assert!(read.gaps.is_empty());
    assert_eq!(read.problems[0].kind, ProblemKind::Blank { needed_by: Some("water_kg") });
}
