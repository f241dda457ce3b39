//! The first row of a batch: its ingredients, and what cannot be.

use kneadfit::charge::Material;
use kneadfit_log::{LogRead, ProblemKind, ReadOptions, Severity};

use crate::support::{HEADER, only, only_error, read, read_rows, read_with};

/// Reads one row given as `column=cell`, all other columns absent.
fn row(cells: &str) -> LogRead {
    let (header, values): (Vec<_>, Vec<_>) =
        cells.split_whitespace().map(|cell| cell.split_once('=').unwrap()).unzip();
    read(&format!("batch,{}\n1,{}\n", header.join(","), values.join(",")))
}

#[test]
fn every_ingredient_has_its_temperature() {
    let read = row("flour_kg=10 flour_c=20 water_kg=4 water_c=5 ice_kg=1 ice_c= preferment_kg=3 \
                    preferment_c=18 preferment_hydration= salt_kg=0.2 sugar_kg=0 fat_kg=0.3 \
                    other_kg=2 other_c=7 other_kj_per_kg_k=3.9 room_c=24 bowl_c=26 flour=strong dough_c=20");
    assert!(read.problems.is_empty(), "{:?}", read.problems);
    let charge = &read.machines[0].log.batches[0].charge;
    let seen: Vec<_> =
        charge.ingredients.iter().map(|i| (i.material, i.mass_kg, i.temperature_c)).collect();
    assert_eq!(
        seen,
        [
            (Material::Flour, 10.0, 20.0),
            (Material::Water, 4.0, 5.0),
            (Material::Ice, 1.0, 0.0),
            (Material::Preferment { hydration: 1.0 }, 3.0, 18.0),
            (Material::Salt, 0.2, 24.0),
            (Material::Fat, 0.3, 24.0),
            (Material::Other { specific_heat_kj_per_kg_k: 3.9 }, 2.0, 7.0),
        ]
    );
    assert_eq!((charge.bowl_c, charge.flour_name.as_deref()), (Some(26.0), Some("strong")));
}

#[test]
fn a_mass_needs_its_temperature() {
    for (cells, column) in [
        ("flour_kg=10 flour_c= water_kg=6 water_c=5 room_c=20 dough_c=20", "flour_c"),
        ("flour_kg=10 flour_c=20 water_kg=6 water_c= room_c=20 dough_c=20", "water_c"),
        ("flour_kg=10 flour_c=20 water_kg=6 water_c=5 room_c= dough_c=20", "room_c"),
        ("other_kg=10 other_c=20 other_kj_per_kg_k= room_c=20 dough_c=20", "other_kj_per_kg_k"),
        ("preferment_kg=10 preferment_c= room_c=20 dough_c=20", "preferment_c"),
    ] {
        let read = row(cells);
        assert!(matches!(only_error(&read, Some(column)), ProblemKind::Blank { .. }), "{cells}");
        assert!(only(&read).hint().unwrap().starts_with("write "), "{cells}");
    }
    // A file that has no such column: there is no cell to point at.
    let read = row("flour_kg=10 water_kg=6 water_c=5 room_c=20 dough_c=20");
    assert_eq!(*only_error(&read, None), ProblemKind::Blank { needed_by: Some("flour_kg") });
}

#[test]
fn an_unreadable_cell_is_not_told_as_blank_too() {
    let read = row("flour_kg=10 flour_c=warm water_kg=6 water_c=5 room_c=x dough_c=20");
    let columns: Vec<_> = read.problems.iter().map(|p| &*p.column.as_ref().unwrap().name).collect();
    assert_eq!(columns, ["flour_c", "room_c"]);
}

#[test]
fn an_empty_bowl_is_set_aside() {
    for cells in ["room_c=20 dough_c=20", "flour_kg=0 flour_c=20 room_c=20 dough_c=20"] {
        assert_eq!(*only_error(&row(cells), None), ProblemKind::EmptyBowl, "{cells}");
    }
}

#[test]
fn a_temperature_without_a_mass_is_doubted() {
    let read =
        row("flour_kg=10 flour_c=20 water_kg=6 water_c=5 ice_kg= ice_c=-5 room_c=20 dough_c=18");
    assert_eq!(only(&read).severity, Severity::Doubt);
    assert_eq!(only(&read).kind, ProblemKind::MassMissing { mass: "ice_kg" });
    assert_eq!(read.rows_used(), 1);
}

#[test]
fn fahrenheit_in_a_celsius_column_is_recognised() {
    for column in ["flour_c", "water_c", "room_c", "dough_c", "bowl_c", "preferment_c", "other_c"] {
        let mut cells =
            "flour_kg=10 flour_c=20 water_kg=6 water_c=5 preferment_kg=1 preferment_c=20 \
                         other_kg=1 other_c=20 other_kj_per_kg_k=3 room_c=20 bowl_c=20 dough_c=21"
                .to_owned();
        let at = cells.find(&format!("{column}=")).unwrap() + column.len() + 1;
        let end = cells[at..].find(' ').map_or(cells.len(), |n| at + n);
        cells.replace_range(at..end, "75");
        let read = row(&cells);
        assert!(
            matches!(only_error(&read, Some(column)), ProblemKind::NotADoughTemperature { .. }),
            "{column}"
        );
        assert!(only(&read).hint().unwrap().contains("23.9"), "{column}");
    }
}

#[test]
fn hydration_of_three_and_swapped_flour_are_set_aside() {
    for (flour, water, column, hint) in [
        ("10", "30", None, "check the masses"),
        ("10", "0.3", None, "check the masses"),
        ("10", "6500", Some("water_kg"), "6500 g is 6.5 kg"),
        ("10000", "6.5", Some("flour_kg"), "10000 g is 10 kg"),
        ("4.5", "10", None, "are flour and water swapped?"),
    ] {
        let read = read_rows(&[&format!("1,{flour},21,{water},12,24,4,19.8")]);
        assert!(matches!(only_error(&read, column), ProblemKind::Hydration { .. }), "{water}");
        let mend = only(&read).mend();
        assert_eq!(mend.is_some(), !hint.starts_with("check"), "{water}");
        if let Some(mend) = mend {
            let mended = ReadOptions::default().with_mends(mend.cells);
            let text = format!("{HEADER}\n1,{flour},21,{water},12,24,4,19.8\n");
            assert_eq!(read_with(&text, &mended).rows_used(), 1, "{flour} {water}");
        }
        assert!(only(&read).hint().unwrap().contains(hint), "{water}: {}", only(&read));
    }
    // Milk and eggs wet a dough too: how much is not known, so a dry one is not accused.
    let read = row("flour_kg=10 flour_c=20 water_kg=0.5 water_c=5 other_kg=5 other_c=8 \
                    other_kj_per_kg_k=3.8 room_c=20 dough_c=18");
    assert!(read.problems.is_empty());
    let dry = row("flour_kg=10 flour_c=20 room_c=20 dough_c=21");
    assert_eq!(only(&dry).kind, ProblemKind::NoWater);
    assert_eq!(dry.rows_used(), 1);
}

#[test]
fn a_temperature_without_a_column_is_asked_for_by_name() {
    let read = row("flour_kg=10 water_kg=6 water_c=5 room_c=20 dough_c=18");
    let hint = only(&read).hint().unwrap();
    assert_eq!(hint, "add a column flour_c or flour_f with the temperature as it went in");
}

#[test]
fn salt_in_grams_is_set_aside() {
    let read = row("flour_kg=10 flour_c=20 water_kg=6 water_c=5 salt_kg=200 room_c=20 dough_c=18");
    assert!(matches!(only_error(&read, Some("salt_kg")), ProblemKind::Salt { .. }));
    assert!(only(&read).hint().unwrap().contains("grams"));
}

#[test]
fn a_charge_in_grams_is_doubted_beside_others_in_kilograms() {
    // Beyond any mixer the charge has a doubt of its own; a small mixer's is beside the others.
    for (flour_kg, water_kg, beyond) in [("10000", "6500", true), ("500", "325", false)] {
        let small = |id: u32| format!("{id},1,21,0.65,12,24,4,19.{id}");
        let rows =
            [small(1), small(2), small(3), format!("4,{flour_kg},21,{water_kg},12,24,4,19.8")];
        let read = read_rows(&rows.each_ref().map(String::as_str));
        let kind = &only(&read).kind;
        assert_eq!(matches!(kind, ProblemKind::LargeCharge { .. }), beyond, "{kind:?}");
        assert_eq!(matches!(kind, ProblemKind::UnlikeOtherCharges { .. }), !beyond, "{kind:?}");
        assert_eq!(only(&read).place.unwrap().row, 4);
        assert!(only(&read).hint().unwrap().contains("grams"));
        let mend = only(&read).mend().unwrap();
        let kg: Vec<f64> = mend.cells.iter().map(|cell| cell.value).collect();
        let written = [flour_kg, water_kg].map(|grams| grams.parse::<f64>().unwrap() / 1000.0);
        assert_eq!(kg, written);
    }
}

#[test]
fn a_dough_colder_than_everything_needs_ice() {
    let read = read_rows(&["1,10,21,6.5,12,24,4,10.5"]);
    assert!(
        matches!(only_error(&read, Some("dough_c")), ProblemKind::ColderThanEverything { coldest_c } if *coldest_c == 12.0)
    );
    // Two thermometers may be half a degree off each.
    assert!(read_rows(&["1,10,21,6.5,12,24,4,11.2"]).problems.is_empty());
    // A cold bowl cools; so does ice.
    let bowl = row("flour_kg=10 flour_c=20 water_kg=6 water_c=18 room_c=20 bowl_c=-15 dough_c=16");
    assert!(bowl.problems.is_empty());
    let ice = row("flour_kg=10 flour_c=20 water_kg=4 water_c=18 ice_kg=2 room_c=20 dough_c=9");
    assert!(ice.problems.is_empty());
}

#[test]
fn ice_that_cannot_melt_is_set_aside() {
    let read = row("flour_kg=10 flour_c=20 water_kg=1 water_c=5 ice_kg=5 room_c=20 dough_c=9");
    assert!(
        matches!(only_error(&read, Some("ice_kg")), ProblemKind::IceNotMelted { short_kj } if *short_kj > 1000.0)
    );
    let warm =
        row("flour_kg=10 flour_c=20 water_kg=6 water_c=5 ice_kg=0.5 ice_c=3 room_c=20 dough_c=9");
    assert!(matches!(only_error(&warm, Some("ice_c")), ProblemKind::OutOfRange { .. }));
}

#[test]
fn a_grade_is_a_part_of_one() {
    let good = "flour_kg=10 flour_c=20 water_kg=6 water_c=5 room_c=20 dough_c=18 development=";
    for (grade, hint) in
        [("85", "85 per cent is written 0.85"), ("-0.1", "shaggy"), ("1.2", "shaggy")]
    {
        let read = row(&format!("{good}{grade}"));
        assert!(matches!(only_error(&read, Some("development")), ProblemKind::OutOfRange { .. }));
        assert!(only(&read).hint().unwrap().contains(hint), "{grade}");
    }
    assert!(row(&format!("{good}1")).problems.is_empty());
}

#[test]
fn minutes_that_look_like_seconds_are_doubted() {
    let read = read_rows(&["1,10,21,6.5,12,24,240,19.8"]);
    assert!(matches!(only(&read).kind, ProblemKind::LongMixing { .. }));
    assert_eq!(only(&read).hint().unwrap(), "in seconds it would be 4 minutes");
    assert_eq!(read.rows_used(), 1);
}

#[test]
fn without_flour_the_log_is_an_experiment_in_physics() {
    for cells in [
        "water_kg=10 water_c=95 room_c=20 dough_c=100",
        "other_kg=50 other_c=16 other_kj_per_kg_k=0.46 room_c=16 minutes_bore=30 dough_c=54",
        "other_kg=50 other_c=16 other_kj_per_kg_k=0.46 room_c=16 minutes_bore=300 dough_c=103",
    ] {
        let read = row(cells);
        assert!(read.problems.is_empty(), "{cells}: {:?}", read.problems);
    }
}
