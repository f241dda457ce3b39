//! Logs of simulated kitchens as rows of cells, to plant faults in and to write down.

use kneadfit_log::write_logs;
use rust_xlsxwriter::{ExcelDateTime, Format, Workbook};

use crate::simulated::kitchen::Kitchen as Simulated;
use crate::simulated::machines::MachineKind;
use crate::simulated::rng::Draws;

/// A log, a vector of cells a row, the header first.
#[derive(Clone)]
pub struct Log {
    pub rows: Vec<Vec<String>>,
}

impl Log {
    /// The log of a simulated kitchen.
    pub fn simulated(kind: MachineKind, seed: u64, batches: usize) -> Self {
        let draws = &mut Draws::seeded(seed);
        Self::of(Simulated::draw(draws, kind).log(draws, batches))
    }

    pub fn of(log: kneadfit::batch::BatchLog) -> Self {
        let mut text = Vec::new();
        write_logs(&[log], &mut text).unwrap();
        let mut rows = csv::ReaderBuilder::new().has_headers(false).from_reader(&text[..]);
        let cells = |row: csv::StringRecord| row.iter().map(str::to_owned).collect();
        Self { rows: rows.records().map(|row| cells(row.unwrap())).collect() }
    }

    pub fn column(&self, name: &str) -> usize {
        self.rows[0].iter().position(|c| c == name).unwrap_or_else(|| panic!("no {name}"))
    }

    /// The only row of a batch.
    pub fn row(&self, batch: &str) -> usize {
        let of = |row: &&Vec<String>| row[self.column("batch")] == batch;
        assert_eq!(self.rows.iter().filter(of).count(), 1, "batch {batch} has several rows");
        self.rows.iter().position(|row| of(&row)).unwrap()
    }

    pub fn cell(&mut self, batch: &str, name: &str) -> &mut String {
        let (row, column) = (self.row(batch), self.column(name));
        &mut self.rows[row][column]
    }

    pub fn number(&mut self, batch: &str, name: &str) -> f64 {
        self.cell(batch, name).parse().unwrap()
    }

    pub fn set(&mut self, batch: &str, name: &str, value: impl ToString) {
        *self.cell(batch, name) = value.to_string();
    }

    pub fn swap(&mut self, batch: &str, one: &str, other: &str) {
        let (a, b) = (self.cell(batch, one).clone(), self.cell(batch, other).clone());
        self.set(batch, one, b);
        self.set(batch, other, a);
    }

    pub fn line(&self, batch: &str) -> u64 {
        1 + self.row(batch) as u64
    }

    /// The same log in °F, lb and seconds, as finely as its own numbers go.
    pub fn in_other_units(&self) -> Self {
        let units = self.rows[0].iter().map(|name| -> (String, fn(f64) -> f64) {
            if let Some(stem) = name.strip_suffix("_c") {
                (format!("{stem}_f"), |c| c * 1.8 + 32.0)
            } else if let Some(stem) = name.strip_suffix("_kg") {
                (format!("{stem}_lb"), |kg| kg / 0.453_592_37)
            } else if let Some(speed) = name.strip_prefix("minutes_") {
                (format!("seconds_{speed}"), |minutes| minutes * 60.0)
            } else {
                (name.clone(), |same| same)
            }
        });
        let (header, convert): (Vec<String>, Vec<_>) = units.unzip();
        let cells = |row: &Vec<String>| -> Vec<String> {
            let cells = row.iter().zip(&convert).zip(&header).zip(&self.rows[0]);
            cells
                .map(|(((cell, convert), name), own)| match cell.parse::<f64>() {
                    Ok(number) if name != own => {
                        ((convert(number) * 1e6).round() / 1e6).to_string()
                    }
                    _ => cell.clone(),
                })
                .collect()
        };
        let rows = self.rows[1..].iter().map(cells);
        Self { rows: std::iter::once(header.clone()).chain(rows).collect() }
    }

    /// As CSV.
    pub fn text(&self) -> Vec<u8> {
        self.rows.iter().map(|row| row.join(",") + "\n").collect::<String>().into_bytes()
    }

    /// As a workbook: numbers are cells of numbers, days those with the format of a date, and
    /// so is 22-May, as a spreadsheet has it.
    pub fn workbook(&self) -> Vec<u8> {
        let mut workbook = Workbook::new();
        let sheet = workbook.add_worksheet();
        let day = Format::new().set_num_format("yyyy-mm-dd");
        for (row, cells) in (0_u32..).zip(&self.rows) {
            for (column, cell) in (0_u16..).zip(cells) {
                let cell = if cell == "22-May" { "2026-05-22" } else { cell };
                if let Ok(number) = cell.parse::<f64>() {
                    sheet.write(row, column, number).unwrap();
                } else if let Ok(date) = ExcelDateTime::parse_from_str(cell) {
                    sheet.write_with_format(row, column, &date, &day).unwrap();
                } else if !cell.is_empty() {
                    sheet.write(row, column, cell).unwrap();
                }
            }
        }
        workbook.save_to_buffer().unwrap()
    }
}
