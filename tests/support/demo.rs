//! The demo's kitchen: one room, one baker, three ways to knead. All of it is invented.

use std::sync::Arc;

use kneadfit::batch::Batch;
use kneadfit::charge::{Charge, Material};

use super::kitchen::{Flour, Habits, Kitchen, Place, Recipe};
use super::machines::{Machine, MachineKind};
use super::rng::Draws;

/// Columns of the files, in the order in which a baker fills them. Minutes stand in
/// the order in which the speeds are used; a rest comes after the first speed.
const COLUMNS: [&str; 26] = [
    "batch",
    "machine",
    "date",
    "flour",
    "flour_kg",
    "flour_c",
    "water_kg",
    "water_c",
    "ice_kg",
    "ice_c",
    "preferment_kg",
    "preferment_c",
    "preferment_hydration",
    "salt_kg",
    "sugar_kg",
    "fat_kg",
    "room_c",
    "bowl_c",
    "minutes_low",
    "minutes_rest",
    "minutes_medium",
    "minutes_high",
    "minutes_hand",
    "dough_c",
    "development",
    "note",
];

/// The seed of everything in the demo.
const SEED: u64 = 20_260_105;

/// One row of a file.
#[derive(Clone)]
struct Row([String; COLUMNS.len()]);

impl Row {
    fn new() -> Self {
        Self(std::array::from_fn(|_| String::new()))
    }

    fn set(&mut self, column: &str, value: impl Into<String>) {
        let at = COLUMNS.iter().position(|c| *c == column).expect("a column of the demo");
        self.0[at] = value.into();
    }

    #[must_use]
    fn with(mut self, column: &str, value: impl Into<String>) -> Self {
        self.set(column, value);
        self
    }
}

fn csv_of(rows: &[Row]) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(COLUMNS).expect("memory takes every row");
    for row in rows {
        writer.write_record(&row.0).expect("memory takes every row");
    }
    String::from_utf8(writer.into_inner().expect("memory can be flushed")).expect("text is UTF-8")
}

/// Without zeros at its end: `4`, `7.5`, `0.85`.
fn short(value: f64) -> String {
    format!("{value}")
}

/// The three kneaders of one kitchen, with what they share.
fn kitchens() -> Vec<Kitchen> {
    let mut draws = Draws::seeded(SEED);
    let place = Place {
        room_mean_c: 22.5,
        room_season_k: 4.5,
        tap_mean_c: 14.0,
        tap_season_k: 4.0,
        fridge_c: 4.0,
        fridge_flour: 0.1,
    };
    let flours = vec![
        Flour::draw(&mut draws, "strong white", 0.0, 1.0),
        Flour::draw(&mut draws, "00 pizza", -0.01, 1.15),
        Flour::draw(&mut draws, "wholemeal blend", 0.05, 0.85),
    ];
    let lean = |flour, hydration, salt| Recipe {
        flour,
        hydration,
        salt,
        sugar: 0.0,
        fat: 0.0,
        preferment: 0.0,
        preferment_hydration: 1.0,
    };
    let recipes = vec![
        lean(1, 0.62, 0.028),
        Recipe { fat: 0.02, ..lean(0, 0.66, 0.022) },
        Recipe { preferment: 0.2, ..lean(0, 0.7, 0.02) },
        lean(2, 0.72, 0.02),
        Recipe { sugar: 0.06, fat: 0.05, ..lean(0, 0.58, 0.018) },
    ];
    [MachineKind::Spiral, MachineKind::Planetary, MachineKind::Hands]
        .map(|kind| {
            let machine = Machine::draw(&mut draws, kind);
            let habits = Habits {
                probe_step_k: 0.1,
                room_step_k: 0.5,
                timer_sd_min: 0.1,
                grade_step: 0.05,
                grades: 0.85,
                reads_twice: 0.2,
                wanted_c: 24.5,
                friction_log_sd: 0.06,
                rate_log_sd: 0.07,
                ..Habits::draw(&mut draws, kind)
            };
            Kitchen {
                machine,
                habits,
                place: place.clone(),
                flours: flours.clone(),
                recipes: recipes.clone(),
            }
        })
        .into()
}

/// The cells of what went in.
fn put_charge(row: &mut Row, charge: &Charge) {
    if let Some(flour) = &charge.flour_name {
        row.set("flour", &**flour);
    }
    for i in &charge.ingredients {
        let name = match i.material {
            Material::Flour => "flour",
            Material::Water => "water",
            Material::Ice => "ice",
            Material::Preferment { hydration } => {
                row.set("preferment_hydration", short(hydration));
                "preferment"
            }
            Material::Salt => "salt",
            Material::Sugar => "sugar",
            Material::Fat => "fat",
            _ => unreachable!("the demo has no other material"),
        };
        row.set(&format!("{name}_kg"), format!("{:.3}", i.mass_kg));
        if !matches!(i.material, Material::Salt | Material::Sugar | Material::Fat) {
            row.set(&format!("{name}_c"), format!("{:.1}", i.temperature_c));
        }
    }
    row.set("room_c", format!("{:.1}", charge.room_c));
    if let Some(bowl_c) = charge.bowl_c {
        row.set("bowl_c", format!("{bowl_c:.1}"));
    }
}

/// What a baker would find worth a word.
fn note(batch: &Batch) -> &'static str {
    let c = &batch.charge;
    let flour_c = c.ingredients.iter().find(|i| i.material == Material::Flour);
    if batch.phases().any(|p| p.is_rest()) {
        "rest before kneading on"
    } else if c.mass_of_kg(|m| *m == Material::Ice) > 0.0 {
        "crushed ice"
    } else if c.bowl_c.is_some_and(|bowl_c| bowl_c > c.room_c) {
        "second batch, bowl still warm"
    } else if flour_c.is_some_and(|i| i.temperature_c < 12.0) {
        "flour from the fridge"
    } else if c.room_c >= 29.0 {
        "very hot day"
    } else {
        ""
    }
}

/// The rows of one batch: one a reading, ingredients in the first, minutes as totals.
fn rows_of(batch: &Batch, machine: &str) -> Vec<Row> {
    let mut totals: Vec<(Arc<str>, f64)> = Vec::new();
    batch
        .stages
        .iter()
        .enumerate()
        .map(|(i, stage)| {
            let mut row = Row::new().with("batch", &*batch.id).with("machine", machine);
            if i == 0 {
                if let Some(date) = &batch.date {
                    row.set("date", &**date);
                }
                put_charge(&mut row, &batch.charge);
                row.set("note", note(batch));
            }
            for phase in &stage.phases {
                match totals.iter_mut().find(|(speed, _)| *speed == phase.speed) {
                    Some((_, minutes)) => *minutes += phase.minutes,
                    None => totals.push((phase.speed.clone(), phase.minutes)),
                }
            }
            for (speed, minutes) in &totals {
                row.set(&format!("minutes_{speed}"), short(*minutes));
            }
            if let Some(dough_c) = stage.reading.dough_c {
                row.set("dough_c", format!("{dough_c:.1}"));
            }
            if let Some(grade) = stage.reading.development {
                row.set("development", short(grade));
            }
            row
        })
        .collect()
}

/// A year of batches on all three, in the order of dates.
fn kitchen_log() -> String {
    let mut draws = Draws::seeded(SEED + 1);
    let mut batches = Vec::new();
    for (kitchen, (letter, n)) in kitchens().iter().zip([("S", 26), ("P", 16), ("H", 11)]) {
        for (i, mixed) in kitchen.year(&mut draws, n).into_iter().enumerate() {
            let id = format!("{letter}{:02}", i + 1).into();
            let batch = Batch { id, ..mixed.logged };
            batches.push((batch.date.clone(), rows_of(&batch, kitchen.machine.kind.name())));
        }
    }
    batches.sort_by(|a, b| a.0.cmp(&b.0));
    csv_of(&batches.into_iter().flat_map(|(_, rows)| rows).collect::<Vec<_>>())
}

/// Good rows of the spiral with the slips that logs have between them.
fn bad_rows() -> String {
    let mut draws = Draws::seeded(SEED + 2);
    let kitchens = kitchens();
    let mut spiral = kitchens[0].clone();
    spiral.habits.reads_twice = 0.0;
    spiral.recipes.truncate(2);
    let mut number = 0;
    let mut good = || {
        number += 1;
        // Spring days, when nothing needs ice.
        let day = 80.0 + 3.0 * f64::from(number);
        let mut batch = spiral.batch_on(&mut draws, format!("B{number:02}"), day).logged;
        batch.charge.bowl_c = None;
        rows_of(&batch, "spiral").swap_remove(0)
    };
    let cell = |row: &Row, column: &str| {
        let at = COLUMNS.iter().position(|c| *c == column).expect("a column of the demo");
        row.0[at].clone()
    };
    let mut rows = vec![good(), good(), good()];
    rows.push(good().with("dough_c", "75.2"));
    let row = good();
    let water = format!("-{}", cell(&row, "water_kg"));
    rows.push(row.with("water_kg", water));
    rows.push(good().with("dough_c", "about 25"));

    let first = good().with("minutes_high", "6").with("dough_c", "22.6");
    let falls = Row::new()
        .with("batch", cell(&first, "batch"))
        .with("machine", "spiral")
        .with("minutes_low", cell(&first, "minutes_low"))
        .with("minutes_high", "4")
        .with("dough_c", "25.1");
    rows.extend([first, falls]);

    let first = good().with("minutes_high", "4").with("dough_c", "21.9");
    let again = Row::new()
        .with("batch", cell(&first, "batch"))
        .with("machine", "spiral")
        .with("flour_kg", "7.500")
        .with("minutes_low", cell(&first, "minutes_low"))
        .with("minutes_high", "8")
        .with("dough_c", "25.4");
    rows.extend([first, again]);

    rows.push(good().with("flour_kg", "5.000").with("water_kg", "15.000"));
    rows.push(
        good()
            .with("flour_kg", "10.000")
            .with("flour_c", "5.0")
            .with("water_kg", "1.500")
            .with("water_c", "4.0")
            .with("ice_kg", "5.000")
            .with("ice_c", "-18.0"),
    );
    rows.push(good().with("dough_c", "2.4"));
    rows.push(good().with("flour_c", "19,5"));
    rows.push(good().with("room_c", ""));
    rows.push(good());
    csv_of(&rows)
}

/// Doughs that are still to be mixed, on all three: nothing is read yet.
fn tomorrow() -> String {
    let mut draws = Draws::seeded(SEED + 3);
    let mut rows = Vec::new();
    for (mut kitchen, n) in kitchens().into_iter().zip([4, 3, 2]) {
        kitchen.habits.reads_twice = 0.0;
        for _ in 0..n {
            let mut batch = kitchen.batch_on(&mut draws, "", 5.0).logged;
            batch.id = format!("T{}", rows.len() + 1).into();
            batch.date = Some("2026-01-05".into());
            let mut row = rows_of(&batch, kitchen.machine.kind.name()).swap_remove(0);
            row.set("dough_c", "");
            row.set("development", "");
            rows.push(row);
        }
    }
    csv_of(&rows)
}

/// The files of the demo: name and content.
pub fn files() -> [(&'static str, String); 3] {
    [
        ("kitchen-log.csv", kitchen_log()),
        ("kitchen-log-bad-rows.csv", bad_rows()),
        ("tomorrow.csv", tomorrow()),
    ]
}
