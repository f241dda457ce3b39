//! The empty log as a workbook.

use rust_xlsxwriter::{
    Color, DataValidation, DataValidationErrorStyle, DataValidationRule, DocProperties,
    ExcelDateTime, Format, FormatAlign, FormatBorder, Note, Workbook, Worksheet, XlsxError,
};

use super::columns::{BlankColumn, Example, Takes};
use crate::dates::DAYS_OF_A_SHEET;

/// What stands above all.
const TITLE: &str = "Kneading log: one row is one reading. Stop the mixer and let the hook come \
                     to rest before a probe, a scraper or a hand goes near it.";

/// Rows of the sheet, from 0.
const WORDS_ROW: u32 = 1;
const HEADER_ROW: u32 = 2;
const EXAMPLE_ROW: u32 = 3;

/// Height of a row to write on by hand, points.
const ROW_PT: f64 = 20.0;
/// What the margins leave of a landscape A4, points.
const PAGE_PT: (f64, f64) = (784.0, 523.0);
/// A letter turned by a right angle takes so much of a row's height, points.
const TURNED_LETTER_PT: f64 = 5.8;
/// A spreadsheet measures columns in digits of its own letters, and how many rows a page takes
/// depends on that: these, or some as wide, are on every system.
const FONT: (&str, f64) = ("Arial", 10.0);
/// The heights of a row and widths of a column of that font, pixels.
const CELL_PX: (u32, u32) = (17, 64);
/// Rows whose cells ask back.
const CHECKED_ROWS: u32 = 2000;

/// ISO 216's A4 among the paper sizes of the format.
const A4: u8 = 9;

pub(super) fn workbook(columns: &[BlankColumn]) -> Result<Vec<u8>, XlsxError> {
    let mut workbook = Workbook::new();
    // The same log must give the same bytes: no time of making is written.
    let made = ExcelDateTime::from_ymd(2000, 1, 1)?;
    workbook.set_properties(
        &DocProperties::new().set_title("Kneading log").set_creation_datetime(&made),
    );
    workbook.set_default_format(&plain(), CELL_PX.0, CELL_PX.1)?;
    let sheet = workbook.add_worksheet();
    sheet.set_name("log")?;
    fill(sheet, columns)?;
    print_across_one_page(sheet)?;
    workbook.save_to_buffer()
}

/// Where a cell of its row begins; a log has far fewer columns than a sheet.
fn place(index: usize) -> u16 {
    u16::try_from(index).unwrap_or(u16::MAX)
}

/// What every cell is written in.
fn plain() -> Format {
    Format::new().set_font_name(FONT.0).set_font_size(FONT.1)
}

fn fill(sheet: &mut Worksheet, columns: &[BlankColumn]) -> Result<(), XlsxError> {
    let ruled = plain().set_border(FormatBorder::Thin);
    let words = ruled.clone().set_italic().set_align(FormatAlign::Bottom);
    let header = ruled
        .clone()
        .set_align(FormatAlign::Bottom)
        .set_bold()
        .set_background_color(Color::RGB(0xEE_EE_EE));
    let example = ruled.clone().set_italic().set_font_color(Color::RGB(0x70_70_70));
    let day = "yyyy-mm-dd";
    sheet.write_with_format(0, 0, TITLE, &plain().set_bold())?;
    for (row, height_pt) in [(WORDS_ROW, words_pt(columns)), (HEADER_ROW, header_pt(columns))] {
        sheet.set_row_height(row, height_pt)?;
    }
    let last_ruled = EXAMPLE_ROW + ruled_rows(columns);
    for row in EXAMPLE_ROW..=last_ruled {
        sheet.set_row_height(row, ROW_PT)?;
    }
    for (index, column) in columns.iter().enumerate() {
        let at = place(index);
        let turned = |format: &Format| match is_narrow(column) {
            true => format.clone().set_rotation(90).set_align(FormatAlign::Center),
            false => format.clone(),
        };
        sheet.write_with_format(WORDS_ROW, at, said(column), &turned(&words))?;
        sheet.write_with_format(HEADER_ROW, at, column.name.as_str(), &turned(&header))?;
        let note = Note::new(help(column)).add_author_prefix(false).set_width(260).set_height(110);
        sheet.insert_note(HEADER_ROW, at, &note)?;
        match &column.example {
            Example::Blank => sheet.write_blank(EXAMPLE_ROW, at, &example)?,
            Example::Text(text) => sheet.write_with_format(EXAMPLE_ROW, at, *text, &example)?,
            Example::Number(number) => {
                sheet.write_with_format(EXAMPLE_ROW, at, *number, &example)?
            }
            Example::Day(date) => {
                let format = example.clone().set_num_format(day);
                let (year, month, of_month) = (date.year(), date.month(), date.day());
                let date = ExcelDateTime::from_ymd(
                    year.unsigned_abs(),
                    month.unsigned_abs(),
                    of_month.unsigned_abs(),
                )?;
                sheet.write_with_format(EXAMPLE_ROW, at, &date, &format)?
            }
        };
        let empty = match column.takes {
            Takes::Day => ruled.clone().set_num_format(day),
            _ => ruled.clone(),
        };
        for row in EXAMPLE_ROW + 1..=last_ruled {
            sheet.write_blank(row, at, &empty)?;
        }
        if let Some(check) = check(column)? {
            let last = EXAMPLE_ROW + CHECKED_ROWS;
            sheet.add_data_validation(EXAMPLE_ROW, at, last, at, &check)?;
        }
        sheet.set_column_width(at, width(column))?;
    }
    sheet.set_freeze_panes(HEADER_ROW + 1, 1)?;
    Ok(())
}

/// What to write, with the range in which the reader takes it.
fn help(column: &BlankColumn) -> String {
    match column.takes {
        Takes::Numbers(range) => {
            format!("{} {}", column.help, range_in_words(column, range.least, range.most))
        }
        _ => column.help.clone(),
    }
}

fn range_in_words(column: &BlankColumn, least: f64, most: f64) -> String {
    let unit = match column.unit {
        "" | "0–1" => String::new(),
        unit => format!(" {unit}"),
    };
    format!("{least} to {most}{unit}.")
}

/// What the cells of a column take; `None`: anything.
fn check(column: &BlankColumn) -> Result<Option<DataValidation>, XlsxError> {
    let check =
        DataValidation::new().set_error_title(column.name.chars().take(32).collect::<String>())?;
    Ok(match column.takes {
        Takes::Text => None,
        Takes::Day => {
            let (first, last) = DAYS_OF_A_SHEET;
            let [first, last] = [first, last].map(ExcelDateTime::from_serial_datetime);
            let rule = DataValidationRule::Between(first?, last?);
            Some(check.allow_date(rule).set_error_message("A day, as 2026-03-14.")?)
        }
        Takes::Numbers(range) => {
            let rule = DataValidationRule::Between(range.least, range.most);
            let within = range_in_words(column, range.least, range.most);
            let (style, more) = match range.binding {
                true => (DataValidationErrorStyle::Stop, ""),
                false => (
                    DataValidationErrorStyle::Warning,
                    " Beyond that the reader of the log doubts the row or sets it aside.",
                ),
            };
            let check = check.allow_decimal_number(rule).set_error_style(style);
            Some(check.set_error_message(format!("{within}{more}"))?)
        }
    })
}

/// What a column is, with its unit.
fn said(column: &BlankColumn) -> String {
    match column.unit {
        "" => column.title.clone(),
        unit => format!("{}, {unit}", column.title),
    }
}

/// Whether a column is narrower than its header, which stands upright.
fn is_narrow(column: &BlankColumn) -> bool {
    matches!(column.takes, Takes::Numbers(_))
}

/// The width of a column, characters.
fn width(column: &BlankColumn) -> f64 {
    match column.name.as_str() {
        "batch" => 17.0,
        "note" => 24.0,
        _ if is_narrow(column) => 6.5,
        _ => 12.0,
    }
}

fn words_pt(columns: &[BlankColumn]) -> f64 {
    upright_pt(columns, said)
}

fn header_pt(columns: &[BlankColumn]) -> f64 {
    upright_pt(columns, |column| column.name.clone())
}

/// The height of a row in which texts stand upright, points.
fn upright_pt(columns: &[BlankColumn], text: impl Fn(&BlankColumn) -> String) -> f64 {
    let letters = columns.iter().filter(|c| is_narrow(c)).map(|c| text(c).chars().count());
    // The name of a speed may be long; a row has a limit.
    letters.max().unwrap_or(0).clamp(4, 40) as f64 * TURNED_LETTER_PT + 6.0
}

/// How many rows to write on fill one page, once the columns fit its width.
fn ruled_rows(columns: &[BlankColumn]) -> u32 {
    // A character is 7 pixels of 3/4 points, and a cell has 5 pixels around its text.
    let width_pt: f64 = columns.iter().map(|column| (7.0 * width(column) + 5.0) * 0.75).sum();
    let scale = (PAGE_PT.0 / width_pt).min(1.0);
    let above_pt = 20.0 + words_pt(columns) + header_pt(columns) + ROW_PT;
    let left_pt = PAGE_PT.1 / scale - above_pt;
    ((left_pt / ROW_PT) as u32).clamp(5, 60)
}

/// No area is set: what is filled in below the ruled rows is printed too, under its header.
fn print_across_one_page(sheet: &mut Worksheet) -> Result<(), XlsxError> {
    sheet.set_paper_size(A4).set_landscape().set_print_fit_to_pages(1, 0);
    sheet.set_margins(0.4, 0.4, 0.5, 0.5, 0.3, 0.3);
    sheet.set_repeat_rows(WORDS_ROW, HEADER_ROW)?;
    Ok(())
}
