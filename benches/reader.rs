//! The reader's rows a second, beside a loop of the csv crate over the same
//! bytes that parses every number and keeps nothing: the floor of any reader.

use std::hint::black_box;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use kneadfit_log::{LogRead, ReadOptions, read_log};

const ROWS: usize = 100_000;

/// A log of a usual kitchen: `readings` rows a batch, the later ones short.
fn kitchen(readings: usize) -> String {
    let mut text = String::from(
        "batch,machine,date,flour,flour_kg,flour_c,water_kg,water_c,salt_kg,room_c,\
         minutes_low,minutes_rest,minutes_high,dough_c,development,note\n",
    );
    for row in 0..ROWS {
        let (batch, reading) = (row / readings, row % readings);
        let (day, tenth) = (1 + batch / 4 % 28, batch % 10);
        let (low, high) = (4 + reading, 0.5 * (reading as f64) + 0.25 * (batch % 8) as f64);
        let dough = 19.0 + 0.9 * reading as f64;
        if reading == 0 {
            text += &format!(
                "b{batch},spiral,2026-03-{day:02},strong,12.{batch:05},20.{tenth},8.1{tenth},\
                 11.{tenth},0.24,23.{tenth},{low},,{high},{dough:.1},0.{tenth},\n"
            );
        } else {
            text += &format!("b{batch},spiral,,,,,,,,,{low},,{high},{dough:.1},0.9,\n");
        }
    }
    text
}

fn ours(text: &str) -> LogRead {
    read_log("kitchen.csv", "spiral", text.as_bytes(), &ReadOptions::default())
}

/// The sum of all numbers, so that none is optimised away.
fn bare(text: &str) -> f64 {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let mut record = csv::ByteRecord::new();
    let mut sum = 0.0;
    while reader.read_byte_record(&mut record).is_ok_and(|more| more) {
        for cell in record.iter().filter(|cell| !cell.is_empty()) {
            if let Some(value) = std::str::from_utf8(cell).ok().and_then(|c| c.parse::<f64>().ok())
            {
                sum += value;
            }
        }
    }
    sum
}

fn reader(criterion: &mut Criterion) {
    for readings in [1, 3] {
        let text = kitchen(readings);
        let read = ours(&text);
        assert_eq!((read.rows_used(), read.problems.len()), (ROWS, 0));
        let mut group = criterion.benchmark_group(format!("reader/{readings} rows a batch"));
        group.throughput(Throughput::Elements(ROWS as u64)).sample_size(20);
        group.bench_function("kneadfit-log", |b| b.iter_with_large_drop(|| ours(black_box(&text))));
        group.bench_function("csv ByteRecord loop", |b| b.iter(|| bare(black_box(&text))));
        group.finish();
    }
}

criterion_group!(benches, reader);
criterion_main!(benches);
