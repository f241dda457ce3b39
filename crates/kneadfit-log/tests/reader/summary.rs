//! What a log can and cannot teach.

use kneadfit_log::summary::{Gap, Summary};

use crate::support::{read, read_rows};

#[test]
fn ranges_and_gaps_are_those_of_the_log() {
    let header = "batch,date,flour_kg,flour_c,water_kg,water_c,room_c,minutes_low,minutes_high,minutes_turbo,dough_c,development";
    let read = read(&format!(
        "{header}\n1,2026-03-02,10,21,6.5,12,24,4,2,0,20,\n2,2026-03-01,10,19,6.5,8,22,6,3,0,19,0.5\n\
         3,,20,20,12,10,23,8,4.1,0,21,\n"
    ));
    assert!(read.problems.is_empty());
    let summary = Summary::of(&read.machines[0].log);
    assert_eq!((summary.batches, summary.dough_temperatures, summary.grades), (3, 3, 1));
    assert_eq!(
        summary.days.as_ref().map(|(a, b)| (&**a, &**b)),
        Some(("2026-03-01", "2026-03-02"))
    );
    let flour = summary.flour_c.unwrap();
    assert_eq!((flour.least, flour.most, flour.batches), (19.0, 21.0, 3));
    assert_eq!(summary.dough_kg.unwrap().most, 32.0);
    assert_eq!(summary.hydration.unwrap().least, 0.6);
    assert_eq!(summary.minutes[1].minutes.most, 4.1);
    assert_eq!(summary.gaps[0], Gap::SpeedNeverUsed { speed: "turbo".into() });
    let Gap::AlwaysTogether { one, other, correlation } = &summary.gaps[1] else { panic!() };
    assert_eq!((&**one, &**other), ("low", "high"));
    assert!(*correlation > 0.99 && *correlation < 1.0);
}

#[test]
fn a_reading_between_two_speeds_parts_them() {
    let header = "batch,flour_kg,flour_c,water_kg,water_c,room_c,minutes_low,minutes_high,dough_c";
    let together = "1,10,21,6.5,12,24,4,2,20\n2,10,21,6.5,12,24,6,3,21\n3,10,21,6.5,12,24,8,4,22\n";
    let apart = "1,10,21,6.5,12,24,4,,18\n1,,,,,,4,2,20\n2,10,21,6.5,12,24,6,,19\n2,,,,,,6,3,21\n";
    for (rows, expected) in [(together, true), (apart, false)] {
        let read = read(&format!("{header}\n{rows}"));
        let gaps = Summary::of(&read.machines[0].log).gaps;
        let found = gaps.iter().any(|gap| matches!(gap, Gap::AlwaysTogether { .. }));
        assert_eq!(found, expected, "{gaps:?}");
    }
}

#[test]
fn equal_batches_teach_one_thing_only() {
    let rows: Vec<String> = (1..=5).map(|k| format!("{k},10,21,6.5,12,24,4,19.8")).collect();
    let rows: Vec<&str> = rows.iter().map(String::as_str).collect();
    let read = read_rows(&rows);
    assert_eq!(read.problems.len(), 4, "four copies of the first");
    let summary = Summary::of(&read.machines[0].log);
    assert_eq!(
        summary.gaps,
        [
            Gap::NoGrades,
            Gap::SpeedNeverVaried { speed: "low".into(), minutes: 4.0 },
            Gap::ChargesAlike { least_kg: 16.5, most_kg: 16.5 },
            Gap::HydrationsAlike { least: 0.65, most: 0.65 },
            Gap::RoomNeverVaried { room_c: 24.0 },
            Gap::WaterAlike { least_c: 12.0, most_c: 12.0 },
            Gap::NoRest,
            Gap::NoEarlyReading,
        ]
    );
    let text = summary.to_string();
    assert!(text.contains("charges were all 16.5 kg"), "{text}");
    assert_eq!(text.matches("→ leave one finished dough in the bowl").count(), 1, "{text}");
    assert!(text.contains("minutes at low never varied (always 4)"), "{text}");
}
