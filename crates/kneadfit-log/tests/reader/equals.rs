//! Equal rows of a kitchen whose thermometers are read to a whole degree.

use kneadfit_log::{LogRead, ProblemKind};

use crate::support::{read, read_rows};

fn equals(read: &LogRead) -> usize {
    let equal = |kind: &ProblemKind| matches!(kind, ProblemKind::EqualBatch { .. });
    read.problems.iter().filter(|problem| equal(&problem.kind)).count()
}

#[test]
fn one_recipe_read_to_a_degree_may_read_alike_every_day() {
    let dough = |id: usize, dough: &str| format!("{id},10,21,6.5,12,24,4,{dough}");
    let of = |doughs: &[&str]| {
        let rows: Vec<String> = doughs.iter().enumerate().map(|(i, c)| dough(i, c)).collect();
        equals(&read_rows(&rows.iter().map(String::as_str).collect::<Vec<_>>()))
    };
    for doughs in [&["20"; 3][..], &["20", "20"], &["20", "21", "20"], &["20", "20", "21", "20"]] {
        assert_eq!(of(doughs), 0, "{doughs:?}");
    }
    // In °F too.
    let rows = "1,22,70,14.4,54,75,4,68\n2,22,70,14.4,54,75,4,68\n3,22,70,14.4,54,75,4,68\n";
    let header = "batch,flour_lb,flour_f,water_lb,water_f,room_f,minutes_low,dough_f";
    assert_eq!(equals(&read(&format!("{header}\n{rows}"))), 0);
    // A thermometer with tenths tells doughs apart.
    assert_eq!(of(&["20.1", "20.1", "20.1"]), 2);
}

#[test]
fn where_each_dough_is_weighed_anew_a_whole_degree_excuses_no_copy() {
    let dough =
        |id: usize, flour: usize| format!("{id},{flour}.35,{flour},6.5,12,24,4,{}", 10 + flour);
    let rows = [dough(1, 9), dough(2, 10), dough(3, 11), dough(4, 10)];
    assert_eq!(equals(&read_rows(&rows.each_ref().map(String::as_str))), 1);
}
